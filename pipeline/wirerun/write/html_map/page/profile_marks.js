/* The parts of a row's profile above its foot: sections, ground, posts, wires, clips, and the post that is chosen. */
import { valueAt } from "./decode.js";

const SPACE = "http://www.w3.org/2000/svg";
const HEAD = 16; // below the names of sections
const DASHES = ["", "7 3", "2 2", "9 2 2 2", "1 3"]; // one for each wire, from the lowest up

export function dashes(place) {
  return DASHES[place % DASHES.length];
}

/* An SVG element; a child that is a text becomes text. */
export function svg(tag, attributes = {}, ...children) {
  const element = document.createElementNS(SPACE, tag);
  for (const [name, value] of Object.entries(attributes)) {
    element.setAttribute(name, value);
  }
  element.append(...children);
  return element;
}

/* The name of an axis, written upwards along it. */
export function sideways(words, x, y) {
  return svg("text", { x, y, transform: `rotate(-90 ${x} ${y})`, "text-anchor": "middle" }, words);
}

export function tail(id) {
  return id.slice(id.lastIndexOf("-") + 1);
}

/* A round step that parts a span into so many pieces at most. */
export function nice(span, most) {
  const steps = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000];
  return steps.find((step) => span / step <= most) || 10000;
}

/* Runs of neighbours that all have a value, as lists of positions. */
function runs(values) {
  const out = [];
  values.forEach((value, i) => {
    if (value !== null) {
      if (i && values[i - 1] !== null) {
        out[out.length - 1].push(i);
      } else {
        out.push([i]);
      }
    }
  });
  return out;
}

function path(points) {
  return points.map(([px, py], i) => `${i ? "L" : "M"}${px.toFixed(1)} ${py.toFixed(1)}`).join("");
}

export function sections({ plan, seen, x, high, now }) {
  const group = svg("g", { "font-size": 12, fill: now.palette.ink });
  const found = new Map();
  seen.all.forEach((post, i) => {
    const section = plan.posts.section[post];
    if (section !== null) {
      found.set(section, [...(found.get(section) || []), i]);
    }
  });
  let free = 0;
  for (const [section, at] of found) {
    // Half a span beyond its first and last post, as the plan reckons its length.
    const edge = (i, j) => (x(seen.station[i]) + x(seen.station[Math.min(Math.max(j, 0), seen.all.length - 1)])) / 2;
    const [from, to] = [edge(at[0], at[0] - 1), edge(at[at.length - 1], at[at.length - 1] + 1)];
    const open = now.section === section;
    const band = { x: from, y: HEAD, width: to - from, height: high - HEAD - 2, fill: now.palette.section };
    group.append(svg("rect", { ...band, "fill-opacity": open ? 0.45 : 0.24, class: "section" }));
    group.append(
      svg("line", { x1: from, x2: to, y1: HEAD, y2: HEAD, stroke: now.palette.ink, "stroke-dasharray": "6 3" }),
    );
    // Sections stand in order: a name has room where the one before it ended. The map and the card name them all.
    const [middle, half] = [(from + to) / 2, 13];
    if (middle - half > free) {
      group.append(svg("text", { x: middle, y: 12, "text-anchor": "middle" }, tail(plan.sections.id[section])));
      free = middle + half + 4;
    }
  }
  return group;
}

export function ground({ seen, x, y, bottom, now }) {
  return runs(seen.ground).map((run) => {
    const points = run.map((i) => [x(seen.station[i]), y(seen.ground[i])]);
    const [from, to] = [points[0][0], points[points.length - 1][0]];
    return svg("path", {
      d: path([[from, bottom], ...points, [to, bottom]]),
      fill: now.palette.ground,
      stroke: now.palette.ink,
      "stroke-width": 1.2,
    });
  });
}

export function posts({ plan, seen, x, y, now }) {
  const group = svg("g", { stroke: now.palette.ink });
  seen.all.forEach((post, i) => {
    if (seen.ground[i] === null) {
      return;
    }
    const end = i === 0 || i === seen.all.length - 1;
    const at = x(seen.station[i]);
    const head = seen.ground[i] + (valueAt(plan.posts.of.height_out_m, post) || 0);
    group.append(svg("line", { x1: at, x2: at, y1: y(seen.ground[i]), y2: y(head), "stroke-width": end ? 3 : 1.2 }));
  });
  return group;
}

/* How high each wire runs over the ground at each post: its own height, or where it lies when it is let down. */
function heightsOver({ plan, seen, now }, k) {
  const { height_m: own } = plan.wires[k];
  return seen.all.map((post, i) => {
    if (seen.ground[i] === null) {
      return null;
    }
    const freed = now.view === "dropped" ? valueAt(plan.posts.clips[k].dropped, post) : null;
    return freed === null ? own : freed;
  });
}

export function wires(frame) {
  const { seen, x, y, now } = frame;
  const group = svg("g", { fill: "none", stroke: now.palette.ink, "stroke-width": 1.3 });
  seen.wires.forEach((k, place) => {
    const over = heightsOver(frame, k);
    for (const run of runs(over)) {
      const d = path(run.map((i) => [x(seen.station[i]), y(seen.ground[i] + over[i])]));
      group.append(svg("path", { d, "stroke-dasharray": dashes(place) }));
    }
  });
  return group;
}

/* What holds each wire at each post, with the marks of the map: triangle two-way, diamond to look at, dot one-way. */
export function clips(frame) {
  const { plan, seen, x, y, now } = frame;
  const group = svg("g", { "stroke-width": 0.9 });
  if (now.view === "dropped") {
    return group;
  }
  seen.wires.forEach((k) => {
    const here = plan.posts.clips[k];
    const over = heightsOver(frame, k);
    seen.all.forEach((post, i) => {
      const held = now.view === "planned" ? here.clip[post] : here.states[now.view].held[post];
      if (!held || over[i] === null) {
        return;
      }
      const doubtful = now.view === "planned" && here.certainty[post] !== null && here.certainty[post] !== "no";
      const pulls = now.view !== "planned" && held.endsWith("under");
      const name = held.startsWith("two-way")
        ? "two-way"
        : held.startsWith("staple")
          ? "staple"
          : doubtful || pulls
            ? "look"
            : "plain";
      group.append(mark(name, x(seen.station[i]), y(seen.ground[i] + over[i]), now.palette));
    });
  });
  return group;
}

export function mark(name, x, y, palette) {
  const half = name === "two-way" ? 4.6 : name === "look" ? 4 : 2.1;
  const { fill, edge } = name === "staple" ? { fill: palette.ink, edge: palette.halo } : palette.marks[name];
  const shapes = {
    "two-way": [
      [0, -1],
      [1, 0.8],
      [-1, 0.8],
    ],
    look: [
      [0, -1],
      [1, 0],
      [0, 1],
      [-1, 0],
    ],
    staple: [
      [-1, -1],
      [1, -1],
      [1, 1],
      [-1, 1],
    ],
  };
  if (name === "plain") {
    return svg("circle", { cx: x, cy: y, r: half, fill, stroke: edge, "data-kind": name });
  }
  const d = `${path(shapes[name].map(([dx, dy]) => [x + half * dx, y + half * dy]))}Z`;
  return svg("path", { d, fill, stroke: edge, "data-kind": name });
}

/* The chosen post: a band through the whole drawing, and its name at the head. */
export function chosen({ plan, seen, x, top, high, wide, now }) {
  const i = seen.all.indexOf(now.post);
  if (i < 0) {
    return [];
  }
  const at = x(seen.station[i]);
  const side = at > wide / 2 ? "end" : "start";
  return [
    svg("rect", {
      x: at - 6,
      y: top,
      width: 12,
      height: high - top - 2,
      fill: "none",
      stroke: now.palette.ink,
      "stroke-width": 2,
    }),
    svg(
      "text",
      {
        x: at + (side === "end" ? 6 : -6),
        y: top - 7,
        "text-anchor": side,
        "font-size": 13,
        "font-weight": 700,
        class: "chosen",
        fill: now.palette.ink,
      },
      tail(plan.posts.id[now.post]),
    ),
  ];
}
