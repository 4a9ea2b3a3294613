/* The legend: what is drawn in the present view, with its counts, each line a switch of its own. */
import { make } from "./elements.js";
import * as shapes from "./shapes.js";
import * as states from "./states.js";
import { grouped } from "./units.js";

/* Write the legend of a view. `layer` tells what is switched off; `show` is told of a change. */
export function fill(plan, marks, view, layer, show) {
  const worst = marks.length ? plan.findings[marks[0].finding].level : "";
  const palette = layer.palette();
  const lines = states.layers(view, plan, marks).map(([name, words, count]) => {
    const box = make("input", { type: "checkbox", id: `layer-${name}` });
    box.checked = layer.isOn(name);
    box.addEventListener("change", () => show(name, box.checked));
    const label = make(
      "label",
      { for: box.id },
      swatch(name, worst, palette, plan),
      make("span", { class: "words" }, words),
    );
    if (count !== null) {
      label.append(make("span", { class: "count", "data-count": name }, grouped(count)));
    }
    return make("li", { "data-layer": name }, box, label);
  });
  document.getElementById("layers").replaceChildren(...lines);
  slopes(plan, layer);
  document.getElementById("layers-note").textContent = states.words(view, plan).note;
}

/* The slope classes, where the map shows them: on the rows, under them or both. */
function slopes(plan, layer) {
  const lines = plan.slope_classes.map(({ name }, code) =>
    make(
      "li",
      {},
      swatch(`slope-${code}`, String(plan.slope_classes.length), layer.palette(), plan),
      make("span", {}, name),
    ),
  );
  const list = document.getElementById("slope-legend");
  list.replaceChildren(...lines);
  list.hidden = layer.bands === "none" && document.getElementById("backdrop").value !== "slopes";
}

/* A mark as the map draws it, on a small canvas of its own. */
function swatch(name, level, palette, plan) {
  const canvas = make("canvas", { class: "swatch", "data-mark": name, "data-level": level, "aria-hidden": "true" });
  paintSwatch(canvas, palette, plan);
  return canvas;
}

/* Paper has its own colours, so the legend is painted anew for it. */
export function paint(palette, plan) {
  document.querySelectorAll(".swatch").forEach((canvas) => paintSwatch(canvas, palette, plan));
}

function paintSwatch(canvas, palette, plan) {
  const [width, height, ratio] = [30, 20, 3];
  // A new size also wipes what was there.
  canvas.width = width * ratio;
  canvas.height = height * ratio;
  const ctx = canvas.getContext("2d");
  ctx.scale(ratio, ratio);
  const name = canvas.dataset.mark;
  const row = name.replace("row-", "");
  if (name.startsWith("slope-")) {
    const code = Number(name.slice(6));
    const one = plan.slope_classes[code];
    ctx.fillStyle = palette.paper ? one.paper : one.screen;
    const high = shapes.bandWidth(code, plan.slope_classes.length, 8);
    ctx.fillRect(2, (height - high) / 2, width - 4, high);
    ctx.lineWidth = 0.6;
    ctx.strokeStyle = palette.ink;
    ctx.strokeRect(2, (height - high) / 2, width - 4, high);
  } else if (row !== name) {
    ctx.moveTo(1, height / 2);
    ctx.lineTo(width - 1, height / 2);
    shapes.strokeRows(ctx, palette, row, 1.5);
  } else if (name in palette.posts) {
    const half = { plain: 4, end: 4.5 }[name] || 6.5;
    shapes.drawPosts(ctx, palette, name, [[width / 2, height / 2]], half);
  } else {
    drawSwatch(ctx, palette, canvas.dataset, width, height);
  }
}

function drawSwatch(ctx, palette, { mark, level }, width, height) {
  const middle = height / 2;
  const line = (colour, thick, dashes) => {
    ctx.beginPath();
    ctx.moveTo(1, middle);
    ctx.lineTo(width - 1, middle);
    ctx.setLineDash(dashes);
    ctx.strokeStyle = colour;
    ctx.lineWidth = thick;
    ctx.stroke();
    ctx.setLineDash([]);
  };
  const drawers = {
    sections: () => {
      line(palette.section, 8, [12, 4]);
      line(palette.ink, 1, []);
    },
    rows: () => line(palette.ink, 1.2, []),
    "left-out": () => line(palette.ink, 1, [2, 4]),
    blocks: () => line(palette.block, 2, [10, 3, 2, 3]),
    contours: () => line(palette.contour, 1.4, []),
    findings: () => shapes.drawFinding(ctx, palette, level, width / 2, middle, 8),
    exclusions: () => {
      ctx.rect(4, 2, width - 8, height - 4);
      ctx.strokeStyle = palette.exclusion;
      ctx.lineWidth = 1.5;
      ctx.stroke();
      ctx.clip();
      shapes.hatch(ctx, palette, { width, height, origin: { x: 0, y: 0 } });
    },
    zones: () => {
      ctx.fillStyle = palette.zoneTint;
      ctx.fillRect(0, 0, width, height);
      ctx.strokeStyle = palette.zone;
      ctx.lineWidth = 1.6;
      ctx.strokeRect(3, 3, width - 6, height - 6);
      ctx.fillStyle = palette.zone;
      ctx.font = "600 10px system-ui, sans-serif";
      ctx.textAlign = "center";
      ctx.textBaseline = "middle";
      ctx.fillText("Z1", width / 2, middle + 0.5);
    },
    adjusters: () => shapes.drawAdjuster(ctx, palette, true, width / 2, middle, 6),
    beyond: () => shapes.drawAdjuster(ctx, palette, false, width / 2, middle, 6),
  };
  drawers[mark]();
}
