/* Words on the map: row numbers beyond the row's start, block names, heights on contours. */
import { contourStep, contoursOf } from "./contours.js";
import * as shapes from "./shapes.js";

const FONT = "system-ui, sans-serif";

/* Takes room on the canvas for words of that width and height round a place; false where something stands already. */
function takes(view, x, y, width, high) {
  const box = { left: x - width / 2, right: x + width / 2, top: y - high / 2, foot: y + high / 2 };
  const free = view.taken.every(
    (one) => box.right < one.left || box.left > one.right || box.foot < one.top || box.top > one.foot,
  );
  if (free) {
    view.taken.push(box);
  }
  return free;
}

/* Label every row, or every 2nd, 5th, 10th ...: as many as have room, and round numbers, so that one can count on. */
function rowStep({ rowGap }) {
  return [1, 2, 5, 10, 20, 50, 100].find((step) => step * rowGap >= 16) || 100;
}

/* The rounder a number, the sooner its label takes its room. */
function roundness(number) {
  return [100, 50, 20, 10, 5, 2, 1].findIndex((step) => number % step === 0);
}

export function rows(ctx, view, plan, palette) {
  const { id, paths } = plan.rows;
  const step = rowStep(view);
  ctx.font = `600 12px ${FONT}`;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  const wanted = paths
    .map((points, i) => {
      const label = id[i].slice(id[i].lastIndexOf("-") + 1);
      const number = parseInt(label.replace(/^\D+/, ""), 10);
      // A piece beyond an exclusion has the number of its row, and comes after all others.
      return { label, number, points, order: roundness(number) + (/\d$/.test(label) ? 0 : 10) };
    })
    .filter(({ number }) => number % step === 0)
    .sort((a, b) => a.order - b.order);
  for (const { label, points } of wanted) {
    const width = ctx.measureText(label).width;
    const [x, y] = beyond(view, points[0], points[1], width);
    if (inWindow(view, x, y) && takes(view, x, y, width + 4, 14)) {
      shapes.textWithHalo(ctx, palette, label, x, y, palette.ink);
    }
  }
}

/* The place for words of a width beyond an end post, away from the row. */
function beyond(view, end, inward, width) {
  const [x, y] = view.place(end);
  const [x2, y2] = view.place(inward);
  const length = Math.hypot(x2 - x, y2 - y) || 1;
  return [x - ((8 + width / 2) * (x2 - x)) / length, y - (14 * (y2 - y)) / length];
}

function inWindow(view, x, y) {
  return x > -20 && y > -20 && x < view.width + 20 && y < view.height + 20;
}

export function blocks(ctx, view, plan, palette) {
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  for (const block of plan.blocks) {
    const corners = block.rings.flat().map((point) => view.place(point));
    if (!corners.length) {
      continue;
    }
    const [x, y] = corners.reduce((top, corner) => (corner[1] < top[1] ? corner : top));
    const name = block.name && block.name !== block.id ? `${block.id} ${block.name}` : block.id;
    ctx.font = `700 14px ${FONT}`;
    // A name is a label, not a page: the panel has it whole.
    const words = shorten(name, 40);
    const width = ctx.measureText(words).width + 6;
    // Two blocks side by side have their names one above the other.
    const at = [16, 34, 52].map((up) => y - up).find((up) => takes(view, x, up, width, 17));
    if (at !== undefined) {
      shapes.textWithHalo(ctx, palette, words, x, at, palette.ink);
    }
  }
}

/*
 * The numbers of the zones, in a frame, so that they are not read as rows: in the zone where it is wide enough, else beyond
 * the ends of its rows, on the side where no row has its number; where there is room only.
 */
export function zones(ctx, view, plan, palette, layer) {
  layer.zoneLabels = [];
  ctx.font = `600 12px ${FONT}`;
  plan.zones.id.forEach((_, index) => {
    const words = zoneWords(plan, index);
    const width = ctx.measureText(words).width + 10;
    const [x, y] = view.rowGap < 7 ? besideZone(view, plan, index, width) : zoneMiddle(view, plan, index);
    if (x !== null && inWindow(view, x, y) && takes(view, x, y, width + 3, 21)) {
      layer.zoneLabels.push({ index, x, y, half: width / 2 });
      framed(ctx, palette, words, x, y, width);
    }
  });
}

function besideZone(view, plan, index, width) {
  const row = plan.zones.middle[index];
  if (row === null) {
    return [null, null];
  }
  const path = plan.rows.paths[row];
  return beyond(view, path[path.length - 1], path[path.length - 2], width);
}

/* The number of the zone that is open, whether the rest is shown or not. */
export function openZone(ctx, view, plan, palette, layer) {
  if (layer.selected && layer.selected.kind === "zone") {
    ctx.font = `700 13px ${FONT}`;
    const [x, y] = zoneMiddle(view, plan, layer.selected.index);
    const words = zoneWords(plan, layer.selected.index);
    framed(ctx, palette, words, x, y, ctx.measureText(words).width + 12);
  }
}

function zoneWords(plan, index) {
  const id = plan.zones.id[index];
  return shorten(id.slice(id.lastIndexOf("-") + 1), 12);
}

/* The middle of a zone on the screen. */
function zoneMiddle(view, plan, index) {
  const corners = plan.zones.rings[index].flat().map((point) => view.place(point));
  const [left, right] = range(corners.map(([x]) => x));
  const [top, bottom] = range(corners.map(([, y]) => y));
  return [(left + right) / 2, (top + bottom) / 2];
}

function framed(ctx, palette, words, x, y, width) {
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  ctx.beginPath();
  ctx.rect(x - width / 2, y - 9, width, 18);
  ctx.fillStyle = palette.halo;
  ctx.fill();
  ctx.strokeStyle = palette.zone;
  ctx.lineWidth = 1.6;
  ctx.stroke();
  ctx.fillStyle = palette.zone;
  ctx.fillText(words, x, y + 0.5);
}

function range(values) {
  return [Math.min(...values), Math.max(...values)];
}

export function shorten(text, most) {
  return text.length > most ? `${text.slice(0, most - 1)}\u2026` : text;
}

export function contours(ctx, view, plan, palette) {
  const every = view.pixelsPerMetre > 2.5 ? 1 : 2;
  ctx.font = `12px ${FONT}`;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  for (const line of contoursOf(plan)) {
    if (Math.round(line.at / contourStep(plan)) % every === 0) {
      alongContour(ctx, view, line, palette);
    }
  }
}

/* The height, at every 500 pixels of the line, turned with it and never upside down. */
function alongContour(ctx, view, line, palette) {
  let until = 90;
  for (let i = 1; i < line.points.length; i += 1) {
    const [x1, y1] = view.place(line.points[i - 1]);
    const [x2, y2] = view.place(line.points[i]);
    const length = Math.hypot(x2 - x1, y2 - y1);
    for (; until <= length; until += 500) {
      const part = until / length;
      const [x, y] = [x1 + part * (x2 - x1), y1 + part * (y2 - y1)];
      const words = Number.isInteger(line.at) ? String(line.at) : line.at.toFixed(1);
      const wide = ctx.measureText(words).width;
      // However it is turned, it lies within the square.
      if (inWindow(view, x, y) && takes(view, x, y, wide, wide)) {
        writeTurned(ctx, palette, words, x, y, x2 - x1, y2 - y1);
      }
    }
    until -= length;
  }
}

function writeTurned(ctx, palette, words, x, y, dx, dy) {
  const angle = Math.atan2(dy, dx);
  ctx.save();
  ctx.translate(x, y);
  ctx.rotate(Math.abs(angle) > Math.PI / 2 ? angle + Math.PI : angle);
  shapes.textWithHalo(ctx, palette, words, 0, 0, palette.contourText);
  ctx.restore();
}
