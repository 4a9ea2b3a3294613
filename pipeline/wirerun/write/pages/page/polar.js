/* A measure against the direction of the rows: a row runs both ways, so each case stands twice, about the outline. */
import { mark, markOf, ticks } from "./marks.js";
import { draw, number } from "./parts.js";

const SIZE = 640;
const MIDDLE = SIZE / 2;
const INNER = 112; // the outline lies within
const OUTER = 272;
const SIDES = ["N", "E", "S", "W"];

export function polar(data, measure, picked, pick) {
  const at = measure.values.flatMap((value, case_) =>
    value === null || data.bearing.values[case_] === null ? [] : [case_],
  );
  const values = at.map((case_) => measure.values[case_]);
  const [low, high] = [Math.min(...values), Math.max(...values)];
  const radius = (value) =>
    high > low ? INNER + ((OUTER - INNER) * (value - low)) / (high - low) : (INNER + OUTER) / 2;
  const place = (bearing, r) => {
    const angle = (bearing * Math.PI) / 180;
    return [MIDDLE + r * Math.sin(angle), MIDDLE - r * Math.cos(angle)];
  };
  const chart = draw("svg", {
    viewBox: `0 0 ${SIZE} ${SIZE}`,
    role: "img",
    "aria-label": `${measure.head} by direction`,
  });
  for (const value of ticks(low, high, 4)) {
    const r = radius(value);
    chart.append(draw("circle", { cx: MIDDLE, cy: MIDDLE, r, fill: "none", stroke: "#d3d2cb" }));
  }
  for (let bearing = 0; bearing < 360; bearing += 30) {
    const [x1, y1] = place(bearing, INNER);
    const [x2, y2] = place(bearing, OUTER + 6);
    chart.append(draw("line", { x1, y1, x2, y2, stroke: "#e6e5df" }));
    const [x, y] = place(bearing, OUTER + 24);
    const words = bearing % 90 ? `${bearing}°` : `${SIDES[bearing / 90]} ${bearing}°`;
    chart.append(draw("text", { x, y: y + 4, "text-anchor": "middle" }, words));
  }
  chart.append(outline(data));
  const own = data.bearing.values[0];
  if (own !== null) {
    const [[x1, y1], [x2, y2]] = [place(own, OUTER + 6), place(own + 180, OUTER + 6)];
    chart.append(draw("line", { x1, y1, x2, y2, stroke: "#1c2329", "stroke-width": 1.5, "stroke-dasharray": "6 4" }));
  }
  const later = [];
  for (const case_ of at) {
    for (const turn of [0, 180]) {
      const [x, y] = place(data.bearing.values[case_] + turn, radius(measure.values[case_]));
      const name = markOf(data, case_);
      const dot = mark(name, x, y, { class: "case", "data-case": data.case[case_], click: () => pick(case_) });
      dot.append(
        draw(
          "title",
          {},
          `${data.bearing.values[case_]}°: ${number(measure.values[case_], measure.decimals)} ${measure.unit}`,
        ),
      );
      (name === "out" ? chart : { append: (one) => later.push(one) }).append(dot);
      if (case_ === picked) {
        later.push(draw("circle", { cx: x, cy: y, r: 9, fill: "none", stroke: "#1c2329", "stroke-width": 2.5 }));
      }
    }
  }
  chart.append(...later);
  for (const value of ticks(low, high, 4)) {
    // Up the page: the words are wider than two rings are apart.
    const [x, y] = place(15, radius(value));
    const words = `${number(value, measure.decimals)} ${measure.unit}`;
    const halo = { stroke: "#ffffff", "stroke-width": 4, "paint-order": "stroke" };
    chart.append(draw("text", { x, y, "text-anchor": "middle", ...halo }, words));
  }
  return chart;
}

/* The blocks in the middle of the chart, north up. */
function outline(data) {
  const points = data.outlines.flat();
  const box = [0, 1].map((axis) => [
    Math.min(...points.map((point) => point[axis])),
    Math.max(...points.map((point) => point[axis])),
  ]);
  const middle = box.map(([low, high]) => (low + high) / 2);
  const reach = Math.max(...points.map(([x, y]) => Math.hypot(x - middle[0], y - middle[1]))) || 1;
  const scale = (INNER - 12) / reach;
  const path = data.outlines.map((ring) => {
    const steps = ring.map(([x, y]) => `${MIDDLE + (x - middle[0]) * scale} ${MIDDLE - (y - middle[1]) * scale}`);
    return `M${steps.join("L")}z`;
  });
  return draw("path", {
    d: path.join(""),
    fill: "#e4efe9",
    "fill-rule": "evenodd",
    stroke: "#1f5f4a",
    "stroke-width": 1.5,
  });
}
