/* What a page carries, out of its gzipped JSON written in base64; a promise. */
export function unpack(text) {
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).json();
}
