/*
 * Paper: the map gets the sheet's size and a round scale, is drawn anew in black and white, and goes back to what it was
 * afterwards.
 */
import { shorten } from "./labels.js";
import * as legend from "./legend.js";
import * as places from "./places.js";
import { toWorld, WORLD } from "./world.js";

const PIXEL_M = 0.0254 / 96; // a pixel of style sheets is a 96th of an inch
// Denominators that a ruler is made for.
const SCALES = [50, 100, 200, 250, 500, 750, 1000, 1250, 1500, 2000, 2500, 3000, 4000, 5000, 7500, 10000, 20000, 50000];
const EQUATOR_M = 40075016.686;

/* The map's zoom at which a metre on the ground is one part of so many on paper. */
function zoomAt(latitude, denominator) {
  const metresPerPixel = denominator * PIXEL_M;
  return Math.log2((EQUATOR_M * Math.cos((latitude * Math.PI) / 180)) / (WORLD * metresPerPixel));
}

/* The largest of the scales at which a part of the map fits into so many pixels. */
export function scaleFor(part, size, latitude) {
  const fits = (denominator) => {
    const scale = 2 ** zoomAt(latitude, denominator);
    return part.x * scale <= size.x && part.y * scale <= size.y;
  };
  return SCALES.find(fits) || SCALES[SCALES.length - 1];
}

/* Which plan a paper is of: its mark, its blocks, and the date that the config has. */
export function markWords(plan) {
  const blocks = plan.blocks.map((block) => block.id).join(", ");
  const which = `${plan.blocks.length === 1 ? "block" : "blocks"} ${shorten(blocks, 60)}`;
  return [`Plan ${plan.mark}`, plan.name, which, plan.date].filter(Boolean).join(" \u00b7 ");
}

/* As a string in a style sheet: what could end it is written by its number. */
export function cssString(words) {
  const plain = [...words].map((sign) =>
    /[\p{L}\p{N} .,:\u00b7-]/u.test(sign) ? sign : `\\${sign.codePointAt(0).toString(16)} `,
  );
  return `"${plain.join("")}"`;
}

/* On paper the mark stands in the head, with what was chosen, and at the foot of every page where a browser can. */
function writeMark(plan) {
  const words = markWords(plan);
  for (const one of document.querySelectorAll(".plan-mark")) {
    one.textContent = words;
  }
  const sheet = new CSSStyleSheet();
  const foot = `{ @bottom-left { content: ${cssString(words)}; font: 9px sans-serif; } }`;
  sheet.replaceSync(`@page ${foot} @page a4 ${foot} @page a3 ${foot}`);
  document.adoptedStyleSheets = [...document.adoptedStyleSheets, sheet];
}

export function create(map, layer, plan, whole, refresh) {
  let view = null;
  writeMark(plan);
  const says = document.getElementById("print-scale");
  // Cautions, totals and sources stand under the map on paper, beside it on the screen: [what, where it comes from].
  const foot = document.getElementById("print-foot");
  const moved = ["cautions", "view", "sources"].map((id) => {
    const part = document.getElementById(id);
    const mark = document.createComment(id);
    part.before(mark);
    return [part, mark];
  });

  const turn = (paper) => {
    document.body.classList.toggle("printing", paper);
    moved.forEach(([part, mark]) => (paper ? foot.append(part) : mark.after(part)));
    layer.forPaper(paper);
    legend.paint(layer.palette(), plan);
    map.options.zoomSnap = paper ? 0 : view.snap;
    map.invalidateSize({ animate: false, pan: false });
    refresh();
  };

  /* What the sheet shows: what is chosen, with a good deal round it; else what was seen, or everything. */
  function fit(part, margin) {
    const centre = part.getCenter();
    const [a, b] = [toWorld(map, part.getNorthWest()), toWorld(map, part.getSouthEast())];
    const room = map.getSize().subtract([2 * margin, 2 * margin]);
    const denominator = scaleFor({ x: b.x - a.x, y: b.y - a.y }, room, centre.lat);
    map.setView(centre, zoomAt(centre.lat, denominator), { animate: false });
    const size = document.getElementById("paper").value.toUpperCase();
    says.textContent = `Scale 1 : ${denominator.toLocaleString("en").replace(",", "\u202f")} on ${size} printed at full size`;
  }

  window.addEventListener("beforeprint", () => {
    view = { centre: map.getCenter(), zoom: map.getZoom(), snap: map.options.zoomSnap };
    const shown = map.getBounds();
    const chosen = layer.selected && places.boundsOf(map, plan, layer.marks, layer.selected);
    turn(true);
    const part = shown.contains(whole) ? whole : shown;
    if (chosen) {
      fit(chosen.pad(layer.selected.kind === "post" ? 0 : 0.15), 40);
    } else {
      fit(part, part === whole ? 28 : 0);
    }
    layer.redraw();
  });
  window.addEventListener("afterprint", () => {
    turn(false);
    map.setView(view.centre, view.zoom, { animate: false });
    layer.redraw();
  });
  const paper = document.getElementById("paper");
  const choose = () => {
    document.body.classList.remove("paper-a4", "paper-a3");
    document.body.classList.add(`paper-${paper.value}`);
  };
  paper.addEventListener("change", choose);
  choose();
  document.getElementById("print").addEventListener("click", () => window.print());
}
