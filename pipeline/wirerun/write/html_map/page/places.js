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

/* A function that gives the thing an id names, or null. Ids of a kind are gone through when one is first asked for. */
export function finder(plan) {
  const kinds = Object.entries(idsOf(plan));
  const known = new Map();
  const positions = (kind, ids) => {
    if (!known.has(kind)) {
      known.set(kind, new Map(ids.map((id, index) => [id, index])));
    }
    return known.get(kind);
  };
  return (id) => {
    const found = id ? kinds.find(([kind, ids]) => positions(kind, ids).has(id)) : null;
    return found ? { kind: found[0], index: known.get(found[0]).get(id), id } : null;
  };
}

/* The ids of each kind of thing, the larger things first. */
function idsOf({ blocks, zones, rows, sections, posts }) {
  return { block: blocks.map(({ id }) => id), zone: zones.id, row: rows.id, section: sections.id, post: posts.id };
}

/* All that can be searched for, the larger things first, each with the position of its block. */
export function listed(plan) {
  const { zones, rows, sections, posts } = plan;
  const ofRow = (row) => rows.block[row];
  const blockOf = {
    block: (index) => index,
    zone: (index) => zones.block[index],
    row: ofRow,
    section: (index) => ofRow(sections.row[index]),
    post: (index) => ofRow(posts.row[index]),
  };
  return Object.entries(idsOf(plan)).flatMap(([kind, ids]) =>
    ids.map((id, index) => ({ kind, index, id, block: blockOf[kind](index) })),
  );
}

export function idOf(plan, { kind, index }) {
  const ids = { row: plan.rows, post: plan.posts, section: plan.sections, zone: plan.zones }[kind];
  return ids ? ids.id[index] : kind === "block" ? plan.blocks[index].id : "";
}
