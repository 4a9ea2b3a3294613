import assert from "node:assert/strict";
import { test } from "node:test";
import { indexOf, key, search } from "../../pipeline/wirerun/write/html_map/page/search.js";

const blocks = [
  { id: "B01", name: "Encosta" },
  { id: "B02", name: "Talh\u00e3o do Rio" },
];
const things = [
  { kind: "block", id: "B01", block: 0 },
  { kind: "block", id: "B02", block: 1 },
  { kind: "zone", id: "B01-Z03", block: 0 },
  { kind: "zone", id: "B02-Z12", block: 1 },
  { kind: "row", id: "B01-R012", block: 0 },
  { kind: "row", id: "B01-R012b", block: 0 },
  { kind: "row", id: "B02-R012", block: 1 },
  { kind: "section", id: "B01-R012-U01", block: 0 },
  { kind: "post", id: "B01-R012-P007", block: 0 },
  { kind: "post", id: "B02-R012-P007", block: 1 },
];
const index = indexOf(things, blocks);
const best = (typed) => {
  const { found, alike } = search(index, typed, 20);
  return found.slice(0, alike).map((thing) => thing.id);
};

test("zeros in front, signs and accents do not count, and words are letters", () => {
  assert.equal(key("B01-R012-P007"), "B1R12P7");
  assert.equal(key("block 1, row 12, post 7"), "B1R12P7");
  assert.equal(key(" Talh\u00e3o "), "TALHAO");
  assert.equal(key("\u5317\u5761-R001"), "\u5317\u5761R1");
});

test("one thing where there is one, all where there are several", () => {
  assert.deepEqual(best("b1 r12"), ["B01-R012"]);
  assert.deepEqual(best("r12"), ["B01-R012", "B02-R012"]);
  assert.deepEqual(best("row 12"), ["B01-R012", "B02-R012"]);
  assert.deepEqual(best("12"), ["B02-Z12", "B01-R012", "B02-R012"]);
  assert.deepEqual(best("zone 3"), ["B01-Z03"]);
  assert.deepEqual(best("r12 p7"), ["B01-R012-P007", "B02-R012-P007"]);
  assert.deepEqual(best("block 2"), ["B02"]);
});

test("a block's name is the block, and narrows down what else is typed", () => {
  assert.deepEqual(best("talhao do rio"), ["B02"]);
  assert.deepEqual(best("Talh\u00e3o do Rio row 12"), ["B02-R012"]);
  assert.deepEqual(best("12 encosta"), ["B01-R012"]);
});

test("pieces of a cut row come after the row, and nothing fits nothing", () => {
  const { found } = search(index, "row 12", 20);
  assert.deepEqual(
    found.slice(0, 3).map((thing) => thing.id),
    ["B01-R012", "B02-R012", "B01-R012b"],
  );
  assert.deepEqual(search(index, " - ", 20), { found: [], alike: 0 });
  assert.equal(search(index, "nowhere", 20).found.length, 0);
});
