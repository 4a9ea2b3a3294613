/* Numbers of the pages beside the map: rounded by the one rule, which is that of rounding.py. */
import assert from "node:assert/strict";
import { test } from "node:test";
import { number } from "../../pipeline/wirerun/write/pages/page/parts.js";

test("halves go away from zero, also those that have no double of their own", () => {
  assert.equal(number(0.285, 2), "0.29");
  assert.equal(number(-0.285, 2), "\u22120.29");
});

test("thousands are apart, no zero is below zero, and what is not there is a dash", () => {
  assert.equal(number(-1234567.5, 1), "\u22121\u202f234\u202f567.5");
  assert.equal(number(-0.04, 1), "0.0");
  assert.equal(number(null), "\u2013");
});
