/* The lower lane of a row's profile: the load on every clip, up where the wire pulls up. */
import { valueAt } from "./decode.js";
import { nice, svg } from "./profile_marks.js";
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
  const group = svg("g", { "font-size": 11, fill: now.palette.ink });
  const up = Math.max(1, plan.hold_down_n, ...every.map((load) => -load));
  const down = Math.max(0.25 * up, ...every);
  const scale = high / (up + down);
  const y = (load) => top + (up + load) * scale;
  const per = (right - left) / Math.max(1, seen.all.length - 1);
  const bar = Math.max(1.5, Math.min(7, (0.72 * per) / loads.length));
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

/* In the colour of the map's class: what asks for a two-way clip, what pulls up but is held, what bears down. */
function kindOf(plan, k, post, load, { view }) {
  if (load >= 0) {
    return "plain";
  }
  const here = plan.posts.clips[k];
  const held = (view === "planned" ? here.clip[post] : here.states[view].held[post]) || "";
  return held.startsWith("two-way") && load < -plan.hold_down_n ? "two-way" : "look";
}

function oneBar(x, zero, end, width, kind, palette) {
  const { fill, edge } = palette.marks[kind];
  const box = { x, y: Math.min(zero, end), width, height: Math.max(0.6, Math.abs(end - zero)) };
  return svg("rect", { ...box, fill, stroke: edge, "stroke-width": width > 3 ? 0.7 : 0.3, class: kind });
}

function ticks(group, { plan, left, right, now }, y, up, down) {
  const factor = units.factor("N");
  const step = nice((up + down) * factor, 4);
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
  group.append(svg("text", { x: 2, y: y(down) + 11 }, `load, ${units.sign("N")}`));
}
