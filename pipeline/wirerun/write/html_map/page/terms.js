/* The trade's words of the reader's country: a table in the plan's data, from what the page writes to what is said there. */
let table = {};

export function set(words) {
  table = words;
}

/* A sentence in these words; a capital stays one, a plural too. */
export function say(sentence) {
  let said = sentence;
  for (const [ours, theirs] of Object.entries(table)) {
    said = said.replaceAll(ours, theirs).replaceAll(capital(ours), capital(theirs));
  }
  return said;
}

function capital(words) {
  return words[0].toUpperCase() + words.slice(1);
}
