/* Words of the reader's country, by the rule of terms.py. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { say, set } from "../../pipeline/wirerun/write/html_map/page/terms.js";

test("a sentence comes over whole, capitals and plurals too", () => {
  set({ "foliage wire": "catch wire", labour: "labor" });
  assert.equal(say("Foliage wires up; a foliage wire. Labour hours"), "Catch wires up; a catch wire. Labor hours");
  set({});
  assert.equal(say("Foliage wires"), "Foliage wires");
});
