/* The legend of a row's profile: only what this row has, each with the mark of the drawing. */
import { make } from "./elements.js";
import * as profileMarks from "./profile_marks.js";
import * as units from "./units.js";

const { svg } = profileMarks;
const CLIPS = {
  "two-way": "two-way clip",
  look: "one-way clip, check on site",
  plain: "one-way clip",
  staple: "staple",
};
const CLIPS_IN_STATE = { ...CLIPS, look: "one-way clip, lifted" };

function swatch(...shapes) {
  return svg("svg", { width: 26, height: 14, "aria-hidden": "true", focusable: "false" }, ...shapes);
}

function bar(kind, palette) {
  const { fill, edge } = kind === "staple" ? { fill: "url(#stapled)", edge: palette.ink } : palette.marks[kind];
  return swatch(svg("rect", { x: 8, y: 1, width: 10, height: 12, fill, stroke: edge }));
}

function barWords(plan) {
  const held = units.amount(plan.hold_down_n, "N", 0);
  return {
    plain: "presses down",
    look: "pulls up, held",
    "two-way": `pulls up by more than the ${held} that a one-way clip holds (dashes)`,
    staple: "pulls up a stapled wire: held both ways",
  };
}

/* `drawing` is the profile as drawn; `wires` are those of the row, from the lowest up. */
export function lines(plan, drawing, wires, { view, palette }) {
  const kinds = (found) => new Set([...drawing.querySelectorAll(found)].map((one) => one.dataset.kind));
  const clips = kinds("path[data-kind], circle[data-kind]");
  const bars = kinds("rect[data-kind]");
  const words = view === "planned" ? CLIPS : CLIPS_IN_STATE;
  const out = wires.map((k, place) => [
    swatch(
      svg("line", {
        x1: 0,
        x2: 26,
        y1: 7,
        y2: 7,
        stroke: palette.ink,
        "stroke-width": 1.4,
        "stroke-dasharray": profileMarks.dashes(place),
      }),
    ),
    `wire ${plan.wires[k].id}`,
  ]);
  for (const [kind, told] of Object.entries(words)) {
    if (clips.has(kind)) {
      out.push([swatch(profileMarks.mark(kind, 13, 7, palette)), told]);
    }
  }
  for (const [kind, told] of Object.entries(barWords(plan))) {
    if (bars.has(kind)) {
      out.push([bar(kind, palette), told]);
    }
  }
  if (drawing.querySelector(".section")) {
    const band = { width: 26, height: 14, fill: palette.section, "fill-opacity": 0.35 };
    out.push([swatch(svg("rect", band)), "undulating section"]);
  }
  return out.map(([picture, told]) => make("li", {}, picture, told));
}
