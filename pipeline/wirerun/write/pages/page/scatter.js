/* One measure against another: where the best cases lie. */
import { mark, markOf, ticks } from "./marks.js";
import { draw, number } from "./parts.js";

const WIDE = 640;
const HIGH = 520;
const LEFT = 84;
const RIGHT = 20;
const TOP = 24;
const FOOT = 56;

export function scatter(data, across, up, picked, pick) {
  const at = data.case.flatMap((_, case_) =>
    across.values[case_] === null || up.values[case_] === null ? [] : [case_],
  );
  const spans = [across, up].map((one) => {
    const values = at.map((case_) => one.values[case_]);
    const [low, high] = [Math.min(...values), Math.max(...values)];
    const more = (high - low || Math.abs(high) || 1) * 0.05;
    return [low - more, high + more];
  });
  const x = (value) => LEFT + ((WIDE - LEFT - RIGHT) * (value - spans[0][0])) / (spans[0][1] - spans[0][0]);
  const y = (value) => HIGH - FOOT - ((HIGH - TOP - FOOT) * (value - spans[1][0])) / (spans[1][1] - spans[1][0]);
  const chart = draw("svg", {
    viewBox: `0 0 ${WIDE} ${HIGH}`,
    role: "img",
    "aria-label": `${up.head} by ${across.head}`,
  });
  for (const value of ticks(...spans[0], 5)) {
    const line = { x1: x(value), x2: x(value), y1: TOP, y2: HIGH - FOOT, stroke: "#e6e5df" };
    const words = { x: x(value), y: HIGH - FOOT + 18, "text-anchor": "middle" };
    chart.append(draw("line", line), draw("text", words, number(value, across.decimals)));
  }
  for (const value of ticks(...spans[1], 6)) {
    const line = { x1: LEFT, x2: WIDE - RIGHT, y1: y(value), y2: y(value), stroke: "#e6e5df" };
    chart.append(
      draw("line", line),
      draw("text", { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end" }, number(value, up.decimals)),
    );
  }
  chart.append(
    draw("text", { x: (LEFT + WIDE - RIGHT) / 2, y: HIGH - 14, "text-anchor": "middle" }, title(across)),
    draw("text", { x: 6, y: 15 }, title(up)),
  );
  const order = [...at].sort((one, other) => rank(data, one) - rank(data, other));
  for (const case_ of order) {
    const place = [x(across.values[case_]), y(up.values[case_])];
    const dot = mark(markOf(data, case_), ...place, {
      class: "case",
      "data-case": data.case[case_],
      click: () => pick(case_),
    });
    dot.append(
      draw("title", {}, [data.case[case_], ...data.keys.map((key) => `${key.name} ${key.values[case_]}`)].join(", ")),
    );
    chart.append(dot);
    if (case_ === picked || case_ === 0) {
      const ring = { cx: place[0], cy: place[1], r: 9, fill: "none", stroke: "#1c2329" };
      chart.append(draw("circle", { ...ring, "stroke-width": case_ === picked ? 2.5 : 1.2, "pointer-events": "none" }));
    }
  }
  return chart;
}

function rank(data, case_) {
  return ["out", "allowed", "front"].indexOf(markOf(data, case_));
}

function title(measure) {
  return measure.unit ? `${measure.head} [${measure.unit}]` : measure.head;
}
