/* What a page carries, out of its gzipped JSON written in base64; a promise. */
export function unpack(text) {
  const signs = atob(text);
  const bytes = new Uint8Array(signs.length);
  for (let i = 0; i < bytes.length; i += 1) {
    bytes[i] = signs.charCodeAt(i);
  }
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).json().then(unfold);
}

/* Columns of few words travel as those words, and for each line the place of its word: back to a word for each line. */
export function unfold(data) {
  if (Array.isArray(data)) {
    return data.length && typeof data.find((one) => one !== null) === "object" ? data.map(unfold) : data;
  }
  if (data === null || typeof data !== "object") {
    return data;
  }
  const { words, at } = data;
  if (Array.isArray(words) && Array.isArray(at)) {
    return at.map((place) => words[place]);
  }
  return Object.fromEntries(Object.entries(data).map(([name, value]) => [name, unfold(value)]));
}
