/* How a case is marked in charts and legend: by colour and by shape. */
import { draw } from "./parts.js";

export const MARKS = {
  front: { words: "the best: none is better in all that counts", fill: "#d55e00", shape: "diamond" },
  allowed: { words: "other cases", fill: "#0072b2", shape: "disc" },
  out: { words: "ruled out", stroke: "#70777d", shape: "ring" },
};

/* Which mark a case has. */
export function markOf(data, at) {
  if (data.ruled_out[at] || data.failed[at]) {
    return "out";
  }
  return data.front[at] ? "front" : "allowed";
}

/* A mark at a place. */
export function mark(name, x, y, more = {}) {
  const { fill, stroke, shape } = MARKS[name];
  const paint = fill
    ? { fill, stroke: "#ffffff", "stroke-width": 0.8 }
    : { fill: "#ffffff", stroke, "stroke-width": 1.2 };
  if (shape === "diamond") {
    return draw("path", { d: `M${x} ${y - 6.5}l6.5 6.5l-6.5 6.5l-6.5 -6.5z`, ...paint, ...more });
  }
  return draw("circle", { cx: x, cy: y, r: shape === "disc" ? 4 : 3, ...paint, ...more });
}

/* Round numbers that span some values, about so many. */
export function ticks(low, high, count) {
  const rough = (high - low || Math.abs(high) || 1) / count;
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * [1, 2, 5, 10].find((one) => one * power >= rough);
  const found = [];
  for (let at = Math.ceil(low / step); at * step <= high + step * 1e-9; at += 1) {
    found.push(at * step);
  }
  return found;
}
