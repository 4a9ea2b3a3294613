/* The lower lane of a row's profile: the load on every clip, up where the wire pulls up. */
import { valueAt } from "./decode.js";
import { nice, sideways, svg } from "./profile_marks.js";
import * as units from "./units.js";

/* The loads of each wire at each post in the view: the least of all states as planned, else that state's. */
function loadsOf({ plan, seen, now }) {
  return seen.wires.map((k) => {
    const here = plan.posts.clips[k];
    const column = now.view === "planned" ? here.load : here.states[now.view].load;
    return seen.all.map((post) => valueAt(column, post));
  });
}

export function draw(frame, top, high) {
  const { plan, seen, x, left, right, now } = frame;
  const loads = loadsOf(frame);
  const every = loads.flat().filter((load) => load !== null);
  const group = svg("g", { "font-size": 12, fill: now.palette.ink });
  const up = Math.max(1, plan.hold_down_n, ...every.map((load) => -load));
  const down = Math.max(0.25 * up, ...every);
  const scale = high / (up + down);
  const y = (load) => top + (up + load) * scale;
  const per = (right - left) / Math.max(1, seen.all.length - 1);
  const bar = Math.max(1, Math.min(9, (0.8 * per) / loads.length));
  group.append(hatching(now.palette));
  loads.forEach((of, place) => {
    of.forEach((load, i) => {
      if (load !== null) {
        const at = x(seen.station[i]) + (place - (loads.length - 1) / 2) * bar - bar / 2;
        group.append(
          oneBar(at, y(0), y(load), bar, kindOf(plan, seen.wires[place], seen.all[i], load, now), now.palette),
        );
      }
    });
  });
  ticks(group, frame, y, up, down);
  return group;
}

/* Grey stripes for what is stapled: it is held both ways, whatever it pulls. */
function hatching({ ink, halo }) {
  const pattern = svg("pattern", {
    id: "stapled",
    width: 4,
    height: 4,
    patternUnits: "userSpaceOnUse",
    patternTransform: "rotate(45)",
  });
  pattern.append(
    svg("rect", { width: 4, height: 4, fill: halo }),
    svg("line", { x1: 0, x2: 0, y1: 0, y2: 4, stroke: ink, "stroke-width": 2.4 }),
  );
  return svg("defs", {}, pattern);
}

/*
 * In the colour of the map's class: what asks for a two-way clip, what pulls up but is held, what presses down; and what a
 * staple holds.
 */
function kindOf(plan, k, post, load, { view }) {
  if (load >= 0) {
    return "plain";
  }
  const here = plan.posts.clips[k];
  const held = (view === "planned" ? here.clip[post] : here.states[view].held[post]) || "";
  if (held.startsWith("staple") || here.clip[post] === "staple") {
    return "staple";
  }
  return held.startsWith("two-way") && load < -plan.hold_down_n ? "two-way" : "look";
}

function oneBar(x, zero, end, width, kind, palette) {
  const { fill, edge } = kind === "staple" ? { fill: "url(#stapled)", edge: palette.ink } : palette.marks[kind];
  const box = { x, y: Math.min(zero, end), width, height: Math.max(0.6, Math.abs(end - zero)) };
  return svg("rect", {
    ...box,
    fill,
    stroke: edge,
    "stroke-width": width > 3 ? 0.7 : 0.3,
    class: kind,
    "data-kind": kind,
  });
}

function ticks(group, { plan, left, right, now }, y, up, down) {
  const factor = units.factor("N");
  const step = nice((up + down) * factor, Math.max(2, Math.min(5, Math.floor((y(down) - y(-up)) / 22))));
  for (let k = Math.ceil((-up * factor) / step); k * step <= down * factor; k += 1) {
    const at = y((k * step) / factor);
    group.append(
      svg("line", {
        x1: left - 4,
        x2: right,
        y1: at,
        y2: at,
        stroke: now.palette.ink,
        "stroke-opacity": k ? 0.14 : 0.9,
      }),
    );
    const words =
      k < 0 ? `\u2191 ${Number((-k * step).toFixed(1))}` : k > 0 ? `\u2193 ${Number((k * step).toFixed(1))}` : "0";
    group.append(svg("text", { x: left - 8, y: at + 4, "text-anchor": "end" }, words));
  }
  const held = y(-plan.hold_down_n);
  const dashed = { x1: left, x2: right, y1: held, y2: held, stroke: now.palette.ink, "stroke-dasharray": "5 3" };
  group.append(svg("line", dashed));
  group.append(sideways(`load, ${units.sign("N")}`, 12, (y(-up) + y(down)) / 2));
}
