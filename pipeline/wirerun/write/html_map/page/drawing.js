/* How each part of the plan is drawn on the canvas. Each takes the canvas, the view, the plan, the colours, the layer. */
import { POST_CLASSES, ROW_CLASSES } from "./classes.js";
import { contourStep, contoursOf } from "./contours.js";
import * as shapes from "./shapes.js";

export function contours(ctx, view, plan, palette) {
  const index = 5 * contourStep(plan);
  for (const line of contoursOf(plan)) {
    ctx.beginPath();
    trace(ctx, view, line.points);
    ctx.strokeStyle = palette.contour;
    ctx.lineWidth = Number.isInteger(line.at / index) ? 1.6 : 0.8;
    ctx.stroke();
  }
}

export function blocks(ctx, view, plan, palette) {
  ctx.beginPath();
  plan.blocks.forEach((block) => block.rings.forEach((ring) => trace(ctx, view, ring)));
  ctx.lineJoin = "round";
  ctx.strokeStyle = palette.halo;
  ctx.lineWidth = 5;
  ctx.stroke();
  ctx.strokeStyle = palette.block;
  ctx.lineWidth = 2;
  ctx.setLineDash([10, 3, 2, 3]);
  ctx.stroke();
  ctx.setLineDash([]);
}

export function exclusions(ctx, view, plan, palette) {
  for (const exclusion of plan.exclusions) {
    ctx.save();
    ctx.beginPath();
    exclusion.rings.forEach((ring) => trace(ctx, view, ring));
    ctx.strokeStyle = palette.exclusion;
    ctx.lineWidth = 2;
    ctx.stroke();
    ctx.clip("evenodd");
    shapes.hatch(ctx, palette, view);
    ctx.restore();
  }
}

export function sections(ctx, view, plan, palette) {
  ctx.beginPath();
  plan.sections.paths.forEach((points) => trace(ctx, view, points));
  const width = Math.min(14, Math.max(1.6, Math.min(2.8, 1.4 * view.pixelsPerMetre), 0.8 * view.pixelsPerMetre));
  ctx.lineCap = "butt";
  ctx.strokeStyle = palette.section;
  ctx.lineWidth = width;
  ctx.setLineDash([1.6 * width, 0.6 * width]);
  ctx.stroke();
  ctx.setLineDash([]);
}

export function rows(ctx, view, plan, palette) {
  ctx.beginPath();
  plan.rows.paths.forEach((points) => trace(ctx, view, points));
  ctx.strokeStyle = palette.row;
  ctx.lineWidth = Math.min(1.5, Math.max(0.5, 0.45 * view.pixelsPerMetre));
  ctx.stroke();
}

/* Rows that could not be planned, and so are in no total. */
export function leftOut(ctx, view, plan, palette) {
  ctx.beginPath();
  for (const one of plan.left_out) {
    trace(ctx, view, one.path);
  }
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = 1;
  ctx.setLineDash([2, 4]);
  ctx.stroke();
  ctx.setLineDash([]);
}

/* The more trouble a row makes, the later it is drawn. */
export function droppedRows(ctx, view, plan, palette, layer) {
  // Where rows lie a pixel apart, lines must get thinner or they run together.
  const width = Math.min(4, Math.max(Math.min(1.4, 1.2 * view.pixelsPerMetre), 0.5 * view.pixelsPerMetre));
  ROW_CLASSES.forEach((name, code) => {
    ctx.beginPath();
    plan.rows.paths.forEach((points, i) => {
      if (plan.rows.class[i] === code && layer.rowIsOn(i)) {
        trace(ctx, view, points);
      }
    });
    // Seen from afar dashes of many rows would form a pattern of their own, of arrows that mean nothing.
    shapes.strokeRows(ctx, palette, name, width, view.rowGap < 6 && !palette.paper);
  });
}

export function posts(ctx, view, plan, palette, layer) {
  const { x, y } = plan.posts;
  const classes = layer.postClasses();
  const byClass = POST_CLASSES.map(() => []);
  const margin = 12;
  for (let i = 0; i < x.length; i += 1) {
    const [px, py] = view.place({ x: x[i], y: y[i] });
    if (px > -margin && py > -margin && px < view.width + margin && py < view.height + margin) {
      byClass[classes[i]].push([px, py]);
    }
  }
  // What matters most is drawn last, on top of the rest.
  for (const name of ["plain", "end", "unknown", "look", "two-way"]) {
    if (layer.isOn(name) && name in palette.posts) {
      const half = shapes.size(name, view.pixelsPerMetre) * (palette.quietly ? 0.75 : 1);
      shapes.drawPosts(ctx, palette, name, byClass[POST_CLASSES.indexOf(name)], half);
    }
  }
}

export function findings(ctx, view, plan, palette, layer) {
  for (const mark of layer.marks) {
    const [x, y] = view.place(mark.point);
    shapes.drawFinding(ctx, palette, plan.findings[mark.finding].level, x, y - 18, 9);
    ctx.beginPath();
    ctx.moveTo(x, y - 9);
    ctx.lineTo(x, y - 2);
    ctx.stroke();
  }
}

export function selectedLine(ctx, view, plan, palette, layer) {
  const chosen = layer.selected;
  if (!chosen) {
    return;
  }
  const lines = {
    row: () => [plan.rows.paths[chosen.index]],
    post: () => [plan.rows.paths[plan.posts.row[chosen.index]]],
    section: () => [plan.sections.paths[chosen.index]],
    zone: () => plan.zones.rings[chosen.index],
    block: () => plan.blocks[chosen.index].rings,
    exclusion: () => plan.exclusions[chosen.index].rings,
    finding: () => [],
  }[chosen.kind]();
  ctx.beginPath();
  lines.forEach((points) => trace(ctx, view, points));
  ctx.lineCap = "round";
  ctx.lineJoin = "round";
  for (const [colour, width] of chosen.kind === "post"
    ? [[palette.selected, 2]]
    : [
        [palette.halo, 8],
        [palette.selected, 3.5],
      ]) {
    ctx.strokeStyle = colour;
    ctx.lineWidth = width;
    ctx.stroke();
  }
}

/* A tick above every post that was done. */
export function ticked(ctx, view, plan, palette, layer) {
  const { x, y } = plan.posts;
  ctx.beginPath();
  for (const post of layer.ticked) {
    const [px, py] = view.place({ x: x[post], y: y[post] });
    ctx.moveTo(px - 5, py - 13);
    ctx.lineTo(px - 1, py - 8);
    ctx.lineTo(px + 7, py - 18);
  }
  ctx.lineCap = "round";
  for (const [colour, width] of [
    [palette.halo, 6],
    [palette.zone, 3],
  ]) {
    ctx.strokeStyle = colour;
    ctx.lineWidth = width;
    ctx.stroke();
  }
}

export function selectedPost(ctx, view, plan, palette, layer) {
  if (layer.selected?.kind !== "post") {
    return;
  }
  const { x, y } = plan.posts;
  const [px, py] = view.place({ x: x[layer.selected.index], y: y[layer.selected.index] });
  for (const [colour, width] of [
    [palette.halo, 6],
    [palette.selected, 2.5],
  ]) {
    ctx.beginPath();
    ctx.arc(px, py, 13, 0, 2 * Math.PI);
    ctx.strokeStyle = colour;
    ctx.lineWidth = width;
    ctx.stroke();
  }
}

/*
 * Work zones, every other one tinted: outlines of strips two rows wide would be read as rows. The one that is open is told
 * by `selectedLine`.
 */
export function zones(ctx, view, plan, palette) {
  ctx.beginPath();
  plan.zones.rings.forEach((rings, index) => {
    if (index % 2 === 0) {
      rings.forEach((ring) => trace(ctx, view, ring));
    }
  });
  ctx.fillStyle = palette.zoneTint;
  ctx.fill("evenodd");
}

/* Slope classes as bands on the rows: each post paints half-way to its neighbours. */
export function bands(ctx, view, plan, palette, layer) {
  const { x, y, row, slopes } = plan.posts;
  const codes = slopes[layer.bands];
  if (!codes) {
    return;
  }
  const count = plan.slope_classes.length;
  const near = (i, j) => (row[j] === row[i] ? { x: (x[i] + x[j]) / 2, y: (y[i] + y[j]) / 2 } : { x: x[i], y: y[i] });
  ctx.lineCap = "butt";
  ctx.lineJoin = "round";
  plan.slope_classes.forEach((one, code) => {
    ctx.beginPath();
    for (let i = 0; i < x.length; i += 1) {
      if (codes[i] === code) {
        trace(ctx, view, [near(i, i - 1), { x: x[i], y: y[i] }, near(i, i + 1)]);
      }
    }
    ctx.strokeStyle = palette.paper ? one.paper : one.screen;
    ctx.lineWidth = shapes.bandWidth(code, count, view.pixelsPerMetre);
    ctx.stroke();
  });
}

/* Beyond the end post, away from the row; where lines of several wires have one, they share the mark. */
export function adjusters(ctx, view, plan, palette, layer) {
  const half = Math.min(7, Math.max(2.2, 0.5 * view.pixelsPerMetre));
  for (const one of plan.adjusters) {
    const [px, py] = view.place(one.point);
    if (!layer.isOn(one.reaches ? "adjusters" : "beyond")) {
      continue;
    }
    if (px < -20 || py < -20 || px > view.width + 20 || py > view.height + 20) {
      continue;
    }
    const [qx, qy] = view.place(one.inward);
    const length = Math.hypot(qx - px, qy - py) || 1;
    const away = 1.9 * half + 1;
    shapes.drawAdjuster(
      ctx,
      palette,
      one.reaches,
      px - (away * (qx - px)) / length,
      py - (away * (qy - py)) / length,
      half,
    );
  }
}

function trace(ctx, view, points) {
  points.forEach((point, i) => {
    const [x, y] = view.place(point);
    if (i) {
      ctx.lineTo(x, y);
    } else {
      ctx.moveTo(x, y);
    }
  });
}
