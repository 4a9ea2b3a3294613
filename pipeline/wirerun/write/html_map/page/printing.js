/* Paper: the map gets the sheet's size, is drawn anew in black and white, and goes back to what it was afterwards. */
import { shorten } from "./labels.js";
import * as legend from "./legend.js";

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
  const turn = (paper) => {
    document.body.classList.toggle("printing", paper);
    layer.forPaper(paper);
    legend.paint(layer.palette(), plan);
    map.invalidateSize({ animate: false, pan: false });
    refresh();
  };
  window.addEventListener("beforeprint", () => {
    view = { centre: map.getCenter(), zoom: map.getZoom() };
    const shown = map.getBounds();
    turn(true);
    // The sheet has another shape than the screen: what was seen must be on it, and fill it if it was everything.
    const part = shown.contains(whole) ? whole : shown;
    map.fitBounds(part, { animate: false, padding: part === whole ? [28, 28] : [0, 0] });
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
