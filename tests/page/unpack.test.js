/* What a page carries, unpacked: columns of few words come back line by line. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { gzipSync } from "node:zlib";
import { unfold, unpack } from "../../pipeline/wirerun/write/html_map/page/unpack.js";

test("a column of few words has a word for each line again, wherever it is", () => {
  const folded = {
    clips: [{ seat: { words: [null, "over"], at: [0, 1, 1] }, load: [0.5, null, 2] }],
    none: null,
    empty: [],
  };
  const whole = { clips: [{ seat: [null, "over", "over"], load: [0.5, null, 2] }], none: null, empty: [] };
  assert.deepEqual(unfold(folded), whole);
});

test("the way from base64 and gzip", async () => {
  const text = gzipSync(JSON.stringify({ id: ["\u5317", null], at: 3 })).toString("base64");
  assert.deepEqual(await unpack(text), { id: ["\u5317", null], at: 3 });
});
