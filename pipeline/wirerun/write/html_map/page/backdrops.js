/* What lies under the plan: shaded relief, slope classes, the user's own photo, an online map if the config has one. */
import { make } from "./elements.js";
import * as labels from "./labels.js";

// So that posts and wires read on top (choice).
const SLOPE_OPACITY = 0.6;
const PHOTO_OPACITY = 0.65;

export function create(map, plan, changed) {
  map.createPane("ground").classList.add("ground");
  const images = (pictures, opacity = 1) =>
    pictures.map((one) => L.imageOverlay(one.picture, one.edges, { pane: "ground", opacity }));
  const { backdrop, photo, basemap } = plan;
  const choices = [
    // Who gives a photo wants to see it.
    ["photo", photo ? `Photo ${labels.shorten(photo.file, 30)}` : "", photo ? images([photo], PHOTO_OPACITY) : []],
    ["shades", "Shaded relief", images(backdrop.shades)],
    ["slopes", "Ground slope", images(backdrop.slopes, SLOPE_OPACITY)],
    ["basemap", "Online map", basemap ? [tiles(basemap)] : []],
    ["none", "Nothing", []],
  ].filter(([name, , layers]) => name === "none" || layers.length);
  const box = document.getElementById("backdrop");
  box.append(...choices.map(([name, words]) => make("option", { value: name }, words)));
  let shown = [];
  const choose = () => {
    shown.forEach((layer) => layer.remove());
    shown = choices.find(([name]) => name === box.value)[2];
    shown.forEach((layer) => layer.addTo(map));
    // Grey relief turns dark at night; colours that mean something stay.
    map.getPane("ground").classList.toggle("photo", box.value !== "shades");
    document.getElementById("backdrop-note").textContent = box.value === "basemap" ? `Map: ${basemap.attribution}` : "";
    changed();
  };
  box.addEventListener("change", choose);
  choose();
}

/* Nothing is asked of the network before this backdrop is chosen. */
function tiles({ url, zoom }) {
  return L.tileLayer(url, { pane: "ground", maxNativeZoom: zoom, maxZoom: 24, attribution: "" });
}
