/* What lies under a click or a fingertip, and where things are. */
import { POST_CLASSES } from "./classes.js";
import { toWorld } from "./world.js";

// Pixels: half of a comfortable touch target, and less for the finer mouse.
const REACH = { fine: 12, coarse: 22 };
// Pixels from row to row below which one cannot aim at a post, or at a row (choice: tried with mouse and thumb).
const AIM = { fine: { post: 8, row: 4.5 }, coarse: { post: 16, row: 10 } };

function hand() {
  return window.matchMedia("(pointer: coarse)").matches ? "coarse" : "fine";
}

/* What a click can mean at a zoom: a "post", a "row", or where rows run together a "zone". `gap` is in pixels. */
export function finest(gap, pointer) {
  const aim = AIM[pointer];
  return gap >= aim.post ? "post" : gap >= aim.row ? "row" : "zone";
}

/* The usual distance from a row to the next in points of the world; the lower third, for gaps differ. */
export function rowGap(paths) {
  const starts = paths.map((points) => points[0]);
  const gaps = starts.slice(1).map((start, i) => distance(start, starts[i]));
  gaps.sort((a, b) => a - b);
  return gaps.length ? gaps[Math.floor(gaps.length / 3)] : Infinity;
}

/*
 * The thing at a place of the screen, or null: a post before a section, a section before a row, a row before a zone, a
 * zone before a block; but never one that is too small to be aimed at.
 */
export function thingAt(map, layer, plan, marks, latlng) {
  const scale = map.options.crs.scale(map.getZoom()) / 256;
  const world = toWorld(map, latlng);
  const pointer = hand();
  const far = REACH[pointer] / scale;
  const level = finest(layer.rowGap * scale, pointer);
  const row = () => nearestLine("row", plan.rows.paths, (i) => layer.rowIsOn(i), world, far);
  const zones = plan.zones.rings.map((rings) => ({ rings }));
  return (
    findingAt(layer, marks, world, scale, far) ||
    zoneLabelAt(map, layer, latlng) ||
    (level === "post" && nearestPost(layer, plan, world, far)) ||
    (level === "post" && layer.sectionIsOn() && nearestLine("section", plan.sections.paths, () => true, world, far)) ||
    (level !== "zone" && row()) ||
    insideOf(layer, "exclusions", plan.exclusions, world) ||
    insideOf(layer, "zones", zones, world) ||
    (level === "zone" && row()) ||
    insideOf(layer, "blocks", plan.blocks, world)
  );
}

function findingAt(layer, marks, world, scale, far) {
  if (!layer.isOn("findings")) {
    return null;
  }
  // The ring is drawn 18 pixels above its place.
  const best = marks.find(
    (mark) => distance(mark.point, { x: world.x, y: world.y + 18 / scale }) < Math.min(far, 14 / scale),
  );
  return best ? { kind: "finding", index: best.finding } : null;
}

function zoneLabelAt(map, layer, latlng) {
  const { x, y } = layer.toCanvas(map.latLngToLayerPoint(latlng));
  const found = (layer.zoneLabels || []).find((box) => Math.abs(box.x - x) < box.half + 3 && Math.abs(box.y - y) < 13);
  return found && layer.isOn("zones") ? { kind: "zone", index: found.index } : null;
}

function nearestPost(layer, plan, world, far) {
  const { x, y } = plan.posts;
  const classes = layer.postClasses();
  const shown = POST_CLASSES.map((name) => layer.isOn(name));
  let best = -1;
  let least = far * far;
  for (let i = 0; i < x.length; i += 1) {
    const squared = (x[i] - world.x) ** 2 + (y[i] - world.y) ** 2;
    if (squared < least && shown[classes[i]]) {
      least = squared;
      best = i;
    }
  }
  return best < 0 ? null : { kind: "post", index: best };
}

function nearestLine(kind, paths, isOn, world, far) {
  let best = -1;
  let least = far;
  paths.forEach((points, i) => {
    const away = isOn(i) ? distance(world, nearestOnPath(points, world)) : Infinity;
    if (away < least) {
      least = away;
      best = i;
    }
  });
  return best < 0 ? null : { kind, index: best };
}

/* Rows bend where they follow a curve. */
export function nearestOnPath(points, world) {
  let best = points[0];
  let least = Infinity;
  for (let k = 1; k < points.length; k += 1) {
    const near = nearestOnSegment(points[k - 1], points[k], world);
    const away = distance(world, near);
    if (away < least) {
      least = away;
      best = near;
    }
  }
  return best;
}

function nearestOnSegment(a, b, point) {
  const dx = b.x - a.x;
  const dy = b.y - a.y;
  const along = ((point.x - a.x) * dx + (point.y - a.y) * dy) / (dx * dx + dy * dy || 1);
  const part = Math.min(1, Math.max(0, along));
  return { x: a.x + part * dx, y: a.y + part * dy };
}

function insideOf(layer, name, areas, world) {
  const found = layer.isOn(name) ? areas.findIndex((area) => isInside(area.rings, world)) : -1;
  return found < 0 ? null : { kind: name.slice(0, -1), index: found };
}

/* Even-odd rule over all rings, so that holes are outside. */
function isInside(rings, { x, y }) {
  let inside = false;
  for (const ring of rings) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i, i += 1) {
      const a = ring[i];
      const b = ring[j];
      if (a.y > y !== b.y > y && x < ((b.x - a.x) * (y - a.y)) / (b.y - a.y) + a.x) {
        inside = !inside;
      }
    }
  }
  return inside;
}

function distance(a, b) {
  return Math.hypot(a.x - b.x, a.y - b.y);
}
