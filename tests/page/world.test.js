import assert from "node:assert/strict";
import { test } from "node:test";
import { mercator, WORLD } from "../../pipeline/wirerun/write/html_map/page/world.js";

test("places fall where the standard's own example puts them", () => {
  // EPSG guidance note 7-2, Popular Visualisation Pseudo-Mercator: 24 22 54.433 N, 100 20 00 W is at -11169055.58 E,
  // 2800000.00 N, on a sphere of 6378137 m.
  const perMetre = WORLD / (2 * Math.PI * 6378137);
  const { x, y } = mercator(-(100 + 20 / 60), 24 + 22 / 60 + 54.433 / 3600);
  assert.ok(Math.abs((x - WORLD / 2) / perMetre + 11169055.58) < 0.01);
  assert.ok(Math.abs((WORLD / 2 - y) / perMetre - 2800000) < 0.01);
});
