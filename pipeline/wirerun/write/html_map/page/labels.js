/* Words on the map: row numbers beyond the row's start, block names, heights on contours. */
import * as shapes from "./shapes.js";
import * as units from "./units.js";

const FONT = "system-ui, sans-serif";

/* Label every row, or every 2nd, 5th, 10th ...: as many as have room, and round numbers, so that one can count on. */
function rowStep(view, paths) {
  const gap = paths.length > 1 ? nearestGap(view, paths) : Infinity;
  return [1, 2, 5, 10, 20, 50, 100].find((step) => step * gap >= 16) || 100;
}

/* The usual distance between the starts of neighbouring rows on the screen; the middle one, for gaps differ. */
function nearestGap(view, paths) {
  const starts = paths.map((points) => view.place(points[0]));
  const gaps = starts.slice(1).map(([x, y], i) => Math.hypot(x - starts[i][0], y - starts[i][1]));
  gaps.sort((a, b) => a - b);
  return gaps[Math.floor(gaps.length / 3)];
}

export function rows(ctx, view, plan, palette) {
  const { id, paths } = plan.rows;
  const step = rowStep(view, paths);
  ctx.font = `600 11px ${FONT}`;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  paths.forEach((points, i) => {
    const label = id[i].slice(id[i].lastIndexOf("-") + 1);
    const number = parseInt(label.replace(/^\D+/, ""), 10);
    if (number % step) {
      return;
    }
    const [x, y] = view.place(points[0]);
    const [x2, y2] = view.place(points[1]);
    const length = Math.hypot(x2 - x, y2 - y) || 1;
    // Beyond the end post, away from the row.
    shapes.textWithHalo(ctx, palette, label, x - (20 * (x2 - x)) / length, y - (14 * (y2 - y)) / length, palette.ink);
  });
}

export function blocks(ctx, view, plan, palette) {
  ctx.textAlign = "center";
  ctx.textBaseline = "bottom";
  for (const block of plan.blocks) {
    const corners = block.rings.flat().map((point) => view.place(point));
    if (!corners.length) {
      continue;
    }
    const [x, y] = corners.reduce((top, corner) => (corner[1] < top[1] ? corner : top));
    const name = block.name && block.name !== block.id ? `${block.id} ${block.name}` : block.id;
    ctx.font = `700 14px ${FONT}`;
    // A name is a label, not a page: the panel has it whole.
    shapes.textWithHalo(ctx, palette, shorten(name, 40), x, y - 8, palette.ink);
  }
}

/* The numbers of the zones, in a frame, so that they are not read as rows; where there is room only. */
export function zones(ctx, view, plan, palette, layer) {
  layer.zoneLabels = [];
  ctx.font = `600 12px ${FONT}`;
  plan.zones.id.forEach((_, index) => {
    const { x, y, across, words } = zonePlace(view, plan, index);
    const width = ctx.measureText(words).width + 10;
    const taken = layer.zoneLabels.some((box) => Math.abs(box.x - x) < width && Math.abs(box.y - y) < 20);
    if (across > 1.2 * width && !taken) {
      layer.zoneLabels.push({ index, x, y, half: width / 2 });
      framed(ctx, palette, words, x, y, width);
    }
  });
}

/* The number of the zone that is open, whether the rest is shown or not. */
export function openZone(ctx, view, plan, palette, layer) {
  if (layer.selected && layer.selected.kind === "zone") {
    ctx.font = `700 13px ${FONT}`;
    const { x, y, words } = zonePlace(view, plan, layer.selected.index);
    framed(ctx, palette, words, x, y, ctx.measureText(words).width + 12);
  }
}

/* The middle of a zone on the screen, its width there, and what to call it on the map. */
function zonePlace(view, plan, index) {
  const corners = plan.zones.rings[index].flat().map((point) => view.place(point));
  const [left, right] = range(corners.map(([x]) => x));
  const [top, bottom] = range(corners.map(([, y]) => y));
  const id = plan.zones.id[index];
  return {
    x: (left + right) / 2,
    y: (top + bottom) / 2,
    across: right - left,
    words: shorten(id.slice(id.lastIndexOf("-") + 1), 12),
  };
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
  ctx.font = `10px ${FONT}`;
  ctx.textAlign = "center";
  ctx.textBaseline = "middle";
  for (const line of plan.contours) {
    if (Math.round(line.height / plan.backdrop.contour_step) % every === 0) {
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
      writeTurned(
        ctx,
        palette,
        units.number(line.height, "m", Number.isInteger(line.height) ? 0 : 1),
        x1 + part * (x2 - x1),
        y1 + part * (y2 - y1),
        x2 - x1,
        y2 - y1,
      );
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
