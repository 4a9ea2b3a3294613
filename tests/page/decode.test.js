import assert from "node:assert/strict";
import { test } from "node:test";
import { gzipSync } from "node:zlib";
import { decode, valueAt } from "../../pipeline/wirerun/write/html_map/page/decode.js";
import { unpack } from "../../pipeline/wirerun/write/html_map/page/unpack.js";
import { mercator } from "../../pipeline/wirerun/write/html_map/page/world.js";

const number = (values, decimals = 1) => ({ decimals, values });

/* Two rows: one straight of three posts, one of two that starts where the first ends. */
function small() {
  return {
    origin: [-7.6, 41.2, 7],
    blocks: [{ id: "B01", rings: [[0, 0, 100, 0, 0, 100]] }],
    exclusions: [],
    rows: {
      zone: [0, 0],
      id: ["R1", "R2"],
      paths: [
        [10, 20, 1000, 0],
        [10, 520, 500, 100, 500, -100],
      ],
      wires: [
        { lines: number([1, 1]), adjuster: { end: [null, null], kind: [null, null] } },
        { lines: number([2, 3]), adjuster: { end: ["start", "far"], kind: ["strainer", null] } },
      ],
    },
    posts: {
      id: ["R1-P1", "R1-P2", "R1-P3", "R2-P1", "R2-P2"],
      row: [0, 0, 0, 1, 1],
      places: [10, 20, 500, 0, 500, 0, -1000, 500, 1000, 0],
      classes: { planned: [4, 2, 4, 4, 4] },
      lines: [{ name: "ground_m", ...number([351.2, null, 350, 349, 348]) }],
    },
    sections: { paths: [[510, 20, 500, 0]] },
    zones: { id: ["Z01"], rings: [[[0, 0, 100, 0, 0, 100]]] },
    left_out: [{ id: "R3", path: [10, 20, 500, 0] }],
    backdrop: { contours: [{ at: 350, path: [0, 0, 10, 10] }], contours_ft: [{ at: 1150, path: [0, 0] }] },
  };
}

test("what another gzip has packed is read, texts of all scripts too", async () => {
  const data = { name: "Encósta 北坡", load: [1.5, null, -0.25] };
  const packed = gzipSync(JSON.stringify(data)).toString("base64");
  assert.deepEqual(await unpack(packed), data);
  // The same, by the program that writes the page.
  const written =
    "H4sIAAAAAAACA6tWykvMTVWyUnLNS44pNTBIMy4uSVSIKTU1NjQHkuZmhko6Sjn5iSlKVtGGeqY6eaU5OTq6BnpGprG1AKddVq08AAAA";
  assert.deepEqual(await unpack(written), data);
});

test("a file that was cut short is refused", async () => {
  const packed = gzipSync(JSON.stringify(small())).toString("base64");
  await assert.rejects(unpack(packed.slice(0, -8)));
});

test("a path is followed step by step from the origin", () => {
  const [straight, bent] = decode(small()).rows.paths;
  assert.deepEqual(straight, [mercator(-7.6 + 10e-7, 41.2 + 20e-7), mercator(-7.6 + 1010e-7, 41.2 + 20e-7)]);
  assert.equal(bent.length, 3);
  const last = mercator(-7.6 + 1010e-7, 41.2 + 520e-7);
  assert.ok(Math.hypot(bent[2].x - last.x, bent[2].y - last.y) < 1e-12);
});

test("posts lie on their rows, and each row knows its first and its last", () => {
  const { posts, rows } = decode(small());
  assert.deepEqual(rows.first, [0, 3]);
  assert.deepEqual(rows.last, [2, 4]);
  assert.ok(Math.abs(posts.x[2] - rows.paths[0][1].x) < 1e-12);
  assert.ok(Math.abs(posts.y[3] - rows.paths[1][0].y) < 1e-12);
});

test("with the wires let down only end posts keep their mark", () => {
  assert.deepEqual(decode(small()).posts.classes.dropped, [4, 0, 4, 4, 4]);
});

test("an adjuster stands at its end of the row, looking inward", () => {
  const { adjusters, rows } = decode(small());
  assert.deepEqual(
    adjusters.map(({ row, lines, reaches }) => [row, lines, reaches]),
    [
      [0, 2, true],
      [1, 3, false],
    ],
  );
  assert.deepEqual(adjusters[0].point, rows.paths[0][0]);
  assert.deepEqual(adjusters[0].inward, rows.paths[0][1]);
  assert.deepEqual(adjusters[1].point, rows.paths[1][2]);
  assert.deepEqual(adjusters[1].inward, rows.paths[1][1]);
});

test("a number that is missing, or a line that is not there, is null", () => {
  const column = decode(small()).posts.of.ground_m;
  assert.equal(valueAt(column, 0), 351.2);
  assert.equal(valueAt(column, 1), null);
  assert.equal(valueAt(column, 99), null);
});
