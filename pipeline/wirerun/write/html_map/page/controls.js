/* What stands on the map itself: buttons, north, scale, and the name of the state that is shown. */
import { make } from "./elements.js";
import { svg } from "./profile_marks.js";
import * as units from "./units.js";

function corner(map, position, element) {
  const control = L.control({ position });
  control.onAdd = () => element;
  control.addTo(map);
  L.DomEvent.disableClickPropagation(element);
  return element;
}

/* Returns the buttons, the sign for the state, and what redraws the scale in the units of the day. */
export function create(map, whole) {
  const tool = (label, sign, pressed) => {
    const state = pressed ? { "aria-pressed": "false" } : {};
    return make("button", { type: "button", title: label, "aria-label": label, ...state }, sign);
  };
  const all = tool("Show the whole plan", "\u2922", false);
  const measure = tool(
    "Measure distances and areas",
    picture("M3 17 17 3l4 4L7 21zM7 13l2 2M10 10l3 3M13 7l2 2"),
    true,
  );
  const position = tool(
    "Show my position",
    picture("M12 2v4M12 18v4M2 12h4M18 12h4M12 7a5 5 0 1 0 0 10a5 5 0 1 0 0-10"),
    true,
  );
  all.addEventListener("click", () => map.fitBounds(whole, { padding: [28, 28] }));
  corner(map, "topleft", make("div", { class: "leaflet-bar tools" }, all, measure, position));
  corner(
    map,
    "topright",
    make("div", { class: "north", role: "img", "aria-label": "North is up" }, "\u25b2", make("b", {}, "N")),
  );
  // What the map shows must stand on the map: the panel may be shut, and paper has no switch.
  const sign = make("p", { class: "view-name" });
  const crowd = make("p", { class: "crowd", hidden: "" }, "A mark tells of several posts: zoom in.");
  corner(map, "bottomright", make("div", { class: "signs" }, crowd, sign));
  let scale = null;
  const setScale = () => {
    if (scale) {
      scale.remove();
    }
    const imperial = units.isImperial();
    scale = L.control.scale({ imperial, metric: !imperial, maxWidth: 160 }).addTo(map);
  };
  setScale();
  return { measure, position, sign, crowd, setScale, hover };
}

/* Name what a click would open, beside the pointer. */
function hover(words, at) {
  const box = document.getElementById("hover");
  box.hidden = !words || !window.matchMedia("(hover: hover)").matches;
  if (words) {
    box.textContent = words;
    box.style.transform = `translate(${at.x + 14}px, ${at.y + 12}px)`;
  }
}

/* A small line drawing for a button. */
function picture(path) {
  const line = {
    fill: "none",
    stroke: "currentColor",
    "stroke-width": 2,
    "stroke-linejoin": "round",
    "stroke-linecap": "round",
  };
  const drawing = svg("svg", {
    viewBox: "0 0 24 24",
    width: 20,
    height: 20,
    "aria-hidden": "true",
    focusable: "false",
  });
  drawing.append(svg("path", { d: path, ...line }));
  return drawing;
}
