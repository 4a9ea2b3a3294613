/* What lies within the map's window: counts of posts, and the part of each row, with that part of its wire. */
import { POST_CLASSES } from "./classes.js";
import { valueAt } from "./decode.js";

const TWO_WAY = POST_CLASSES.indexOf("two-way");

/* `box` has the window's edges in world points: left, right, top, bottom. */
export function within(plan, box) {
  const inside = (x, y) => x >= box.left && x <= box.right && y >= box.top && y <= box.bottom;
  const { posts, rows } = plan;
  const out = { rows: 0, row_m: 0, posts: 0, two_way: 0, adjusters: 0, wire_m: plan.wires.map(() => 0) };
  for (let i = 0; i < posts.x.length; i += 1) {
    if (inside(posts.x[i], posts.y[i])) {
      out.posts += 1;
      out.two_way += posts.classes.planned[i] === TWO_WAY;
    }
  }
  const lengths = rows.lines.find((line) => line.name === "length_m");
  rows.paths.forEach((path, row) => {
    const share = shareInside(path, box);
    if (share > 0) {
      out.rows += 1;
      out.row_m += share * (valueAt(lengths, row) || 0);
      rows.wires.forEach((wire, k) => {
        out.wire_m[k] += share * (valueAt(wire.run_out_m, row) || 0);
      });
    }
  });
  out.left_out = plan.left_out.filter((one) => shareInside(one.path, box) > 0).length;
  for (const one of plan.adjusters) {
    out.adjusters += one.reaches && inside(one.point.x, one.point.y) ? one.lines : 0;
  }
  return out;
}

/* The share of a path's length that lies in a box, 0 to 1. */
function shareInside(path, box) {
  let all = 0;
  let some = 0;
  for (let k = 1; k < path.length; k += 1) {
    const [a, b] = [path[k - 1], path[k]];
    const length = Math.hypot(b.x - a.x, b.y - a.y);
    all += length;
    some += length * segmentInside(a, b, box);
  }
  return all ? some / all : 0;
}

/* The share of a segment in a box (Liang and Barsky, 1984): where it enters, where it leaves. */
function segmentInside(a, b, box) {
  let enter = 0;
  let leave = 1;
  const limits = [
    [a.x - b.x, a.x - box.left],
    [b.x - a.x, box.right - a.x],
    [a.y - b.y, a.y - box.top],
    [b.y - a.y, box.bottom - a.y],
  ];
  for (const [towards, room] of limits) {
    if (towards === 0 && room < 0) {
      return 0;
    }
    if (towards < 0) {
      enter = Math.max(enter, room / towards);
    } else if (towards > 0) {
      leave = Math.min(leave, room / towards);
    }
  }
  return Math.max(0, leave - enter);
}
