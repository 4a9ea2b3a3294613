import assert from "node:assert/strict";
import { test } from "node:test";
import { count } from "../../pipeline/wirerun/write/html_map/page/cells.js";

const place = ({ x, y }) => [x, y];
const view = { origin: { x: 0, y: 0 }, width: 100, height: 100 };

test("posts are counted by cell and class, and those outside are not", () => {
  const found = count([1, 2, 30, 500], [1, 2, 30, 1], [0, 2, 2, 2], place, view);
  assert.equal(found.length, 2);
  assert.deepEqual(
    found.map((cell) => [cell.all, cell.of[0], cell.of[2]]),
    [
      [2, 1, 1],
      [1, 0, 1],
    ],
  );
});

test("cells hang on the ground: a map moved by a pixel moves them by a pixel", () => {
  const before = count([20], [20], [2], place, view)[0];
  const moved = ({ x, y }) => [x - 1, y];
  const after = count([20], [20], [2], moved, { ...view, origin: { x: 1, y: 0 } })[0];
  assert.deepEqual([after.x, after.y], [before.x - 1, before.y]);
});
