import assert from "node:assert/strict";
import { afterEach, test } from "node:test";
import * as units from "../../pipeline/wirerun/write/html_map/page/units.js";

afterEach(() => units.set("metric"));

const imperial = (value, unit, decimals) => {
  units.set("imperial");
  return units.number(value, unit, decimals);
};

test("feet, pounds-force, inches and acres by their definitions", () => {
  // NIST SP 811, appendix B.8: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 lbf = 4.448 221 615 260 5 N, exactly.
  assert.equal(imperial(0.3048 * 1234.5, "m", 1), "1234.5");
  assert.equal(imperial(4.4482216152605e6, "N", 4), "1000000.00000"); // pounds get one decimal more than newtons
  // Inches get two decimals more than millimetres.
  assert.equal(imperial(25.4 * 3.14, "mm", 0), "3.14");
  // An acre of international feet has 4046.856 422 4 m2.
  assert.equal(imperial(0.40468564224 * 1e4, "ha", 4), "10000.0000");
  assert.equal(imperial(0.3048 ** 2 * 9, "m\u00b2", 3), "9.000");
  assert.equal(imperial(0.3048 * 4.4482216152605 * 100, "Nm", 1), "100.0");
});

test("degrees Fahrenheit at the two fixed points, and where both scales meet", () => {
  units.set("imperial");
  assert.deepEqual(
    [0, 100, -40].map((celsius) => units.degrees(celsius)),
    ["32\u00a0\u00b0F", "212\u00a0\u00b0F", "\u221240\u00a0\u00b0F"],
  );
  units.set("metric");
  assert.equal(units.degrees(-5), "\u22125\u00a0\u00b0C");
});

test("what has no imperial unit stays as it is", () => {
  assert.equal(imperial(12.5, "%", 1), "12.5");
  assert.equal(imperial(8, "h", 0), "8");
});

test("thousands stand apart, decimals do not", () => {
  assert.equal(units.grouped(1234567), "1\u202f234\u202f567");
  assert.equal(units.grouped(999), "999");
  assert.equal(units.amount(156372.4, "m", 1, true), "156\u202f372.4\u00a0m");
  assert.equal(units.amount(-12345, "N", 0, true), "-12\u202f345\u00a0N");
  assert.equal(units.number(12345.6789, "m", 4, true), "12\u202f345.6789");
});

test("nothing is minus zero, and no number is a dash", () => {
  assert.equal(units.number(-0.04, "N", 1), "0.0");
  assert.equal(units.number(-0.4, "N", 0), "0");
  assert.equal(units.number(-0.06, "N", 1), "-0.1");
  assert.equal(units.number(null, "N", 1), "\u2013");
  assert.equal(units.number(undefined, "N", 1), "\u2013");
});

test("a number and its unit never part, and a degree sign clings", () => {
  assert.equal(units.amount(2.5, "m", 2), "2.50\u00a0m");
  assert.equal(units.amount(112.3, "deg", 1), "112.3\u00b0");
  assert.equal(units.amount(3, "", 0), "3");
  assert.equal(units.head("Run out", "m"), "Run out, m");
  units.set("imperial");
  assert.equal(units.head("Run out", "m"), "Run out, ft");
  assert.ok(Math.abs(units.factor("m") - 1 / 0.3048) < 1e-12);
});

test("halves go away from zero, as in every other print", () => {
  // The cases of tests/unit/test_rounding.py.
  const shown = [
    [23.05, 1, "23.1"],
    [22.95, 1, "23.0"],
    [0.285, 2, "0.29"],
    [1.005, 2, "1.01"],
    [2.5, 0, "3"],
    [3.5, 0, "4"],
    [-0.25, 1, "-0.3"],
    [-0.04, 1, "0.0"],
  ];
  for (const [value, decimals, written] of shown) {
    assert.equal(units.number(value, "", decimals), written);
  }
  assert.equal(units.grouped(1234.5), "1\u202f235");
});

test("sentences of the plan are told in feet, names of settings and things are not", () => {
  assert.equal(units.sentence("12 m of 3.15 mm"), "12 m of 3.15 mm");
  units.set("imperial");
  assert.equal(units.sentence("1 piece shorter than 12 m left out"), "1 piece shorter than 39.4 ft left out");
  assert.equal(
    units.sentence("up to 8507 N, 0.025 m (elevation.accuracy_m)"),
    "up to 1\u202f912 lbf, 0.0820 ft (elevation.accuracy_m)",
  );
  assert.equal(
    units.sentence("125 118.98 m, pine post 80 x 2500, 4 N/mm\u00b2"),
    "410\u202f495 ft, pine post 80 x 2500, 4 N/mm\u00b2",
  );
  assert.equal(units.amount(5, "N", 0), "1.1\u00a0lbf");
});
