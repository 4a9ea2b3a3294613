/* Where things are on the map, and how they are called. */
import { nearestOnPath } from "./hit.js";
import { toLatLng } from "./world.js";

/* Findings that point to a row, post or section get a mark there; those of a block or file stand in the list only. */
export function findingMarks(plan, find) {
  return plan.findings.flatMap((one, finding) => {
    const thing = find(one.at);
    return thing && thing.kind !== "block" ? [{ finding, point: middle(pointsOf(plan, [], thing)) }] : [];
  });
}

function pointsOf(plan, marks, { kind, index }) {
  switch (kind) {
    case "post":
      return [{ x: plan.posts.x[index], y: plan.posts.y[index] }];
    case "row":
      return plan.rows.paths[index];
    case "section":
      return plan.sections.paths[index];
    case "zone":
      return plan.zones.rings[index].flat();
    case "block":
      return plan.blocks[index].rings.flat();
    case "exclusion":
      return plan.exclusions[index].rings.flat();
    default:
      return marks.filter((mark) => mark.finding === index).map((mark) => mark.point);
  }
}

/* Half-way between the first and the last point, on the line itself. */
function middle(points) {
  const [a, b] = [points[0], points[points.length - 1]];
  return nearestOnPath(points, { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 });
}

export function bounds(map, points) {
  return L.latLngBounds(points.map((point) => toLatLng(map, point)));
}

/* What paper shows of a thing: a post or a section with its whole row. */
export function boundsOf(map, plan, marks, { kind, index }) {
  const rows = { post: plan.posts.row, section: plan.sections.row };
  return placeOf(map, plan, marks, kind in rows ? { kind: "row", index: rows[kind][index] } : { kind, index });
}

export function placeOf(map, plan, marks, thing) {
  const points = pointsOf(plan, marks, thing);
  if (points.length) {
    return bounds(map, points);
  }
  // A finding about a whole block has no mark: show its block.
  const at = plan.blocks.findIndex((block) => block.id === plan.findings[thing.index].at);
  return bounds(map, pointsOf(plan, marks, { kind: "block", index: Math.max(at, 0) }));
}

/* Every id that is on the map, with the thing it names. */
export function allIds(plan) {
  const all = new Map();
  for (const thing of listed(plan)) {
    all.set(thing.id, thing);
  }
  return all;
}

/* All that can be searched for, the larger things first, each with the position of its block. */
export function listed(plan) {
  const { blocks, zones, rows, sections, posts } = plan;
  const list = (kind, ids, blockOf) => ids.map((id, index) => ({ kind, index, id, block: blockOf(index) }));
  const ofRow = (row) => rows.block[row];
  return [
    ...list(
      "block",
      blocks.map((block) => block.id),
      (index) => index,
    ),
    ...list("zone", zones.id, (index) => zones.block[index]),
    ...list("row", rows.id, ofRow),
    ...list("section", sections.id, (index) => ofRow(sections.row[index])),
    ...list("post", posts.id, (index) => ofRow(posts.row[index])),
  ];
}

export function idOf(plan, { kind, index }) {
  const ids = { row: plan.rows, post: plan.posts, section: plan.sections, zone: plan.zones }[kind];
  return ids ? ids.id[index] : kind === "block" ? plan.blocks[index].id : "";
}
