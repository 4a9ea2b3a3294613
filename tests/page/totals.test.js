import assert from "node:assert/strict";
import { test } from "node:test";
import { within } from "../../pipeline/wirerun/write/html_map/page/totals.js";

const column = (...values) => ({ decimals: 1, values });

function planOf(paths, posts = [], leftOut = []) {
  return {
    wires: [{ id: "fruiting" }, { id: "lower" }],
    posts: {
      x: posts.map(([x]) => x),
      y: posts.map(([, y]) => y),
      classes: { planned: posts.map(([, , code]) => code) },
    },
    rows: {
      paths: paths.map((path) => path.map(([x, y]) => ({ x, y }))),
      lines: [{ name: "length_m", ...column(...paths.map(() => 100)) }],
      wires: [{ run_out_m: column(...paths.map(() => 110)) }, { run_out_m: column(...paths.map(() => null)) }],
    },
    left_out: leftOut.map((path) => ({ path: path.map(([x, y]) => ({ x, y })) })),
    adjusters: [
      { reaches: true, lines: 4, point: { x: 1, y: 1 } },
      { reaches: false, lines: 2, point: { x: 1, y: 1 } },
      { reaches: true, lines: 1, point: { x: 50, y: 1 } },
    ],
  };
}

test("a row counts by the part of it that lies in the window", () => {
  const plan = planOf([
    [
      [0, 5],
      [20, 5],
    ],
    [
      [0, 50],
      [20, 50],
    ],
  ]);
  const found = within(plan, { left: 5, right: 10, top: 0, bottom: 10 });
  assert.equal(found.rows, 1);
  assert.ok(Math.abs(found.row_m - 25) < 1e-12);
  assert.ok(Math.abs(found.wire_m[0] - 27.5) < 1e-12);
  assert.equal(found.wire_m[1], 0); // not computed: no metres
});

test("posts on the edge are inside, two-way ones are counted apart, and lines that no adjuster reaches are left out", () => {
  const posts = [
    [0, 0, 2],
    [10, 10, 0],
    [10.001, 10, 2],
    [5, 5, 4],
  ];
  const found = within(planOf([], posts), { left: 0, right: 10, top: 0, bottom: 10 });
  assert.deepEqual([found.posts, found.two_way, found.adjusters], [3, 1, 4]);
});

test("the share of any path in any window is that of many points along it", () => {
  // Small whole-number generator (Park and Miller, 1988), so that every run sees the same cases.
  let seed = 20231;
  const chance = () => {
    seed = (seed * 48271) % 2147483647;
    return seed / 2147483647;
  };
  const pieces = 20000;
  for (let k = 0; k < 60; k += 1) {
    const path = Array.from({ length: 2 + (k % 3) }, () => [20 * chance() - 5, 20 * chance() - 5]);
    const [left, top] = [6 * chance(), 6 * chance()];
    const box = { left, top, right: left + 5 * chance(), bottom: top + 5 * chance() };
    let [all, some] = [0, 0];
    path.slice(1).forEach(([x2, y2], i) => {
      const [x1, y1] = path[i];
      const step = Math.hypot(x2 - x1, y2 - y1) / pieces;
      for (let n = 0; n < pieces; n += 1) {
        const part = (n + 0.5) / pieces;
        const [x, y] = [x1 + part * (x2 - x1), y1 + part * (y2 - y1)];
        all += step;
        some += x >= box.left && x <= box.right && y >= box.top && y <= box.bottom ? step : 0;
      }
    });
    const { row_m: metres } = within(planOf([path]), box);
    assert.ok(Math.abs(metres / 100 - some / all) < 3 / pieces, `case ${k}: ${metres / 100}, counted ${some / all}`);
  }
});

test("a row that cannot be planned is counted where it runs through the window", () => {
  const along = (y) => [
    [0, y],
    [20, y],
  ];
  const plan = planOf([along(5)], [], [along(6), along(7), along(60)]);
  assert.equal(within(plan, { left: 5, right: 10, top: 0, bottom: 10 }).left_out, 2);
  assert.equal(within(plan, { left: 30, right: 40, top: 0, bottom: 10 }).left_out, 0);
});
