import assert from "node:assert/strict";
import { test } from "node:test";
import { scaleFor } from "../../pipeline/wirerun/write/html_map/page/printing.js";

test("a part of the map is printed at the largest round scale at which it fits", () => {
  // At the equator a point of the world (256 of them round it) is 40075016.686 / 256 m; a pixel of paper is 0.0254 / 96 m.
  const metres = (m) => (m * 256) / 40075016.686;
  const size = { x: 1000, y: 500 };
  const across = 1000 * (0.0254 / 96); // of the paper, in metres
  assert.equal(scaleFor({ x: metres(across * 1249), y: 0 }, size, 0), 1250);
  assert.equal(scaleFor({ x: metres(across * 1251), y: 0 }, size, 0), 1500);
  assert.equal(scaleFor({ x: 0, y: metres((across / 2) * 2400) }, size, 0), 2500);
  // Web Mercator stretches: at 60 degrees twice as much.
  assert.equal(scaleFor({ x: 2 * metres(across * 1249), y: 0 }, size, 60), 1250);
});
