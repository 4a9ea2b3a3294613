import assert from "node:assert/strict";
import { test } from "node:test";
import { finest, nearestOnPath, rowGap, thingAt } from "../../pipeline/wirerun/write/html_map/page/hit.js";

// A map at zoom 0, where a point of the world is a pixel, and a place is its own point.
const map = {
  getZoom: () => 0,
  latLngToLayerPoint: ({ x, y }) => ({ x, y }),
  options: { crs: { scale: (zoom) => 256 * 2 ** zoom, latLngToPoint: (place) => place } },
};
const square = (x, y, side) => [
  { x, y },
  { x: x + side, y },
  { x: x + side, y: y + side },
  { x, y: y + side },
];
const plan = {
  posts: { x: [100, 130], y: [100, 100] },
  rows: {
    paths: [
      [
        { x: 100, y: 100 },
        { x: 130, y: 100 },
      ],
    ],
  },
  sections: {
    paths: [
      [
        { x: 110, y: 100 },
        { x: 130, y: 100 },
      ],
    ],
  },
  exclusions: [{ rings: [square(60, 60, 20)] }],
  zones: { rings: [] },
  blocks: [{ rings: [square(20, 20, 200), square(180, 180, 30)] }],
};
const marks = [{ finding: 7, point: { x: 60, y: 160 } }];

function layer(off = []) {
  return {
    rowGap: 30,
    isOn: (name) => !off.includes(name),
    rowIsOn: () => !off.includes("rows"),
    sectionIsOn: () => !off.includes("sections"),
    postClasses: () => [4, 2],
    toCanvas: (point) => point,
    zoneLabels: [{ index: 3, x: 200, y: 60, half: 20 }],
  };
}

function at(x, y, off = [], coarse = false) {
  globalThis.window = { matchMedia: () => ({ matches: coarse }) };
  return thingAt(map, layer(off), plan, marks, { x, y });
}

test("a post goes before its section, a section before its row, a row before its block", () => {
  assert.deepEqual(at(128, 105), { kind: "post", index: 1 });
  assert.deepEqual(at(128, 105, ["two-way"]), { kind: "section", index: 0 });
  assert.deepEqual(at(128, 105, ["two-way", "sections"]), { kind: "row", index: 0 });
  assert.deepEqual(at(128, 105, ["two-way", "sections", "rows"]), { kind: "block", index: 0 });
  assert.equal(at(128, 105, ["two-way", "sections", "rows", "blocks"]), null);
});

test("of two posts the nearer one is hit", () => {
  assert.equal(at(104, 96).index, 0);
  assert.equal(at(126, 96).index, 1);
});

test("a fingertip reaches as far as a touch target is wide, a mouse half of that", () => {
  assert.equal(at(100, 111.9).kind, "post");
  assert.equal(at(100, 112.1).kind, "block");
  assert.equal(at(100, 121.9, [], true).kind, "post");
  assert.equal(at(100, 122.1, [], true).kind, "block");
});

test("a hole is outside, and so is the next field", () => {
  assert.equal(at(170, 195).kind, "block");
  assert.equal(at(195, 195), null);
  assert.equal(at(240, 100), null);
});

test("an exclusion lies over its block", () => {
  assert.deepEqual(at(70, 70), { kind: "exclusion", index: 0 });
  assert.deepEqual(at(70, 70, ["exclusions"]), { kind: "block", index: 0 });
});

test("the ring of a finding stands above its place, and goes before all else", () => {
  assert.deepEqual(at(60, 142), { kind: "finding", index: 7 });
  assert.deepEqual(
    [129.9, 130.1, 153.9, 154.1].map((y) => at(60, y).kind),
    ["block", "finding", "finding", "block"],
  );
  assert.equal(at(60, 160).kind, "block");
  assert.equal(at(60, 142, ["findings"]).kind, "block");
});

test("a zone is hit by its label", () => {
  assert.deepEqual(at(218, 60), { kind: "zone", index: 3 });
  assert.equal(at(218, 60, ["zones"]).kind, "block");
});

test("the nearest place on a bent path is on its nearest piece, or at an end", () => {
  const path = [
    { x: 0, y: 0 },
    { x: 10, y: 0 },
    { x: 10, y: 10 },
  ];
  assert.deepEqual(nearestOnPath(path, { x: 4, y: 3 }), { x: 4, y: 0 });
  assert.deepEqual(nearestOnPath(path, { x: 12, y: 7 }), { x: 10, y: 7 });
  assert.deepEqual(nearestOnPath(path, { x: -5, y: -5 }), { x: 0, y: 0 });
  assert.deepEqual(nearestOnPath([path[1], path[1]], { x: 3, y: 4 }), { x: 10, y: 0 });
});

test("what one can aim at hangs on how far rows are apart on the screen", () => {
  assert.deepEqual(
    [1, 5, 20].map((gap) => finest(gap, "fine")),
    ["zone", "row", "post"],
  );
  // A finger is broader than a mouse's arrow.
  assert.deepEqual(
    [5, 12, 20].map((gap) => finest(gap, "coarse")),
    ["zone", "row", "post"],
  );
  const rows = [0, 2, 4, 30].map((y) => [
    { x: 0, y },
    { x: 9, y },
  ]);
  assert.equal(rowGap(rows), 2);
  assert.equal(rowGap(rows.slice(0, 1)), Infinity);
});

test("from afar a zone is opened where a post stands, and a row where there are no zones", () => {
  globalThis.window = { matchMedia: () => ({ matches: false }) };
  const near = layer();
  const far = { ...layer(), rowGap: 1 };
  const place = { x: 100, y: 100 };
  assert.equal(thingAt(map, near, plan, [], place).kind, "post");
  const zoned = { ...plan, zones: { rings: [[square(90, 90, 30)]] } };
  assert.deepEqual(thingAt(map, far, zoned, [], place), { kind: "zone", index: 0 });
  assert.equal(thingAt(map, far, { ...plan, zones: { rings: [] } }, [], place).kind, "row");
});
