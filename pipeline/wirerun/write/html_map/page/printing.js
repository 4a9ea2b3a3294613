/* Paper: the map gets the sheet's size, is drawn anew in black and white, and goes back to what it was afterwards. */
import * as legend from "./legend.js";

export function create(map, layer, plan, whole, refresh) {
  let view = null;
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
