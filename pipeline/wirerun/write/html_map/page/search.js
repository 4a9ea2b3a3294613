/*
 * What a person means by "b1 r12 p7", "row 12", "zone 3" or "Talho 12": letters and numbers count, zeros in front don't,
 * and a block's own name stands for the block. Nothing of the page is touched here.
 */
const LETTERS = { BLOCK: "B", ZONE: "Z", ROW: "R", POST: "P", SECTION: "U" };
const A_WORD = /\b(BLOCK|ZONE|ROW|POST|SECTION)S?\s*(?=\d)/g;

/* Upper case without accents: a keyboard in the field has none. */
function plain(text) {
  return text.normalize("NFD").replace(/\p{M}/gu, "").toUpperCase();
}

/* "B01-R012" and "b1 row 12" are both "B1R12". */
export function key(text) {
  return plain(text)
    .replace(A_WORD, (_, word) => LETTERS[word])
    .replace(/[^\p{L}\p{N}]/gu, " ")
    .replace(/(^|\D)0+(?=\d)/g, "$1")
    .replace(/ /g, "");
}

/* Ready to be searched. `things` have an id and the position of their block; `blocks` have an id and a name. */
export function indexOf(things, blocks) {
  const names = blocks.map(({ name }) => plain(name || "").trim());
  const fronts = blocks.map(({ id }) => key(id));
  return {
    names,
    things: things.map((thing, order) => {
      const whole = key(thing.id);
      const front = thing.kind !== "block" && thing.block !== null ? fronts[thing.block] : "";
      // What the block's id does not say: "R12" of "B01-R012".
      const own = front && whole.startsWith(front) ? whole.slice(front.length) : whole;
      return { ...thing, order, whole, own };
    }),
  };
}

/* What was typed: the blocks that it names, and the key of the rest. */
function meant({ names }, typed) {
  let text = ` ${plain(typed)} `;
  const blocks = new Set();
  names.forEach((name, at) => {
    if (name && text.includes(` ${name} `)) {
      blocks.add(at);
    }
  });
  for (const at of blocks) {
    text = text.replaceAll(` ${names[at]} `, " ");
  }
  return { blocks, key: key(text) };
}

/*
 * The things that fit, the best first, `most` of them. `alike` is how many fit as well as the first: of several, only a
 * person can tell which one is meant.
 */
export function search(index, typed, most) {
  const wanted = meant(index, typed);
  const whole = key(typed);
  if (!whole) {
    return { found: [], alike: 0 };
  }
  const found = index.things
    .map((thing) => ({ ...thing, rank: thing.whole === whole ? 0 : rank(thing, wanted, index.names) }))
    .filter((thing) => thing.rank < Infinity)
    .sort((a, b) => a.rank - b.rank || a.order - b.order);
  return { found: found.slice(0, most), alike: found.filter((thing) => thing.rank === found[0].rank).length };
}

function rank(thing, { blocks, key: wanted }, names) {
  if (blocks.size && !blocks.has(thing.block)) {
    return Infinity;
  }
  if (!wanted) {
    return thing.kind === "block" ? 1 : Infinity;
  }
  const named = thing.kind === "block" ? names[thing.block] : "";
  const steps = [
    thing.own === wanted,
    // A row that an exclusion cuts has one number: R012, R012b.
    thing.kind === "row" && thing.own.slice(0, -1) === wanted && /\d$/.test(wanted),
    // "12" is a row or a zone.
    /^\d+$/.test(wanted) && /^\D\d+$/.test(thing.own) && thing.own.slice(1) === wanted,
    thing.own.startsWith(wanted) || thing.whole.startsWith(wanted) || (named && key(named).startsWith(wanted)),
    thing.whole.includes(wanted),
  ];
  const at = steps.findIndex(Boolean);
  return at < 0 ? Infinity : at + 1;
}
