import assert from "node:assert/strict";
import { test } from "node:test";
import { ticksOf } from "../../pipeline/wirerun/write/html_map/page/walk.js";

const shelf = (start = {}) => {
  const kept = { ...start };
  return { kept, getItem: (name) => kept[name] ?? null, setItem: (name, value) => (kept[name] = value) };
};

test("ticks stay in the store, for one plan only", () => {
  const store = shelf();
  const ticks = ticksOf("aaaa", store);
  assert.equal(ticks.turn("B01-R001-P002"), true);
  assert.equal(ticksOf("aaaa", store).has("B01-R001-P002"), true);
  assert.equal(ticksOf("bbbb", store).has("B01-R001-P002"), false);
  ticks.turn("B01-R001-P002");
  assert.equal(ticksOf("aaaa", store).has("B01-R001-P002"), false);
});

test("without a store, or with nonsense in it, ticks last as long as the page", () => {
  for (const store of [null, shelf({ "wirerun aaaa": "{" })]) {
    const ticks = ticksOf("aaaa", store);
    assert.equal(ticks.turn("P1"), store !== null);
    assert.equal(ticks.has("P1"), true);
  }
});
