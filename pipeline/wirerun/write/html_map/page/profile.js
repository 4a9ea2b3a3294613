/*
 * A row seen from its right-hand side, as SVG: ground through its posts, posts, wires, clips; below it the load on every
 * clip in the state that the map shows. Up means that the wire pulls up.
 */
import { POST_CLASSES } from "./classes.js";
import { valueAt, wiresOf } from "./decode.js";
import * as profileLoads from "./profile_loads.js";
import * as profileMarks from "./profile_marks.js";
import * as rowCard from "./row_card.js";
import * as units from "./units.js";

const { svg, tail } = profileMarks;
const LEFT = 62; // a name of the axis on its side, and heights of six signs
const RIGHT = 16;
const TOP = 36; // two lines: names of sections, and over the drawing that of the chosen post
const AXIS = 22;
const LEAST = 215; // pixels high
const MOST = 460;
const GROUND_SHARE = 0.64; // of the height, for ground and wires; the rest is for loads
const SPREAD = 26; // pixels a post where posts are spread, so that each has its name and its bars

/* What is drawn of a row: places, heights and sections of its posts; `levelled` takes the row's mean slope out. */
export function model(plan, row, levelled) {
  const { posts, rows } = plan;
  const all = rowCard.postsOf(rows, row);
  const station = all.map((post) => valueAt(posts.of.station_m, post));
  const raw = all.map((post) => valueAt(posts.of.ground_m, post));
  const known = all.map((_, i) => i).filter((i) => raw[i] !== null);
  const [a, b] = [known[0], known[known.length - 1]];
  const grade = known.length > 1 ? (raw[b] - raw[a]) / (station[b] - station[a] || 1) : 0;
  const ground = raw.map((z, i) => (z === null || !levelled ? z : z - raw[a] - grade * (station[i] - station[a])));
  const wires = wiresOf(plan, row);
  return { row, all, wires, station, ground, length: station[station.length - 1] || 1, known };
}

/*
 * The drawing. `now` has the view, the chosen post and section or null, the width in pixels, the palette, whether the
 * slope is taken out, and `pick`, which is told of a post that was clicked.
 */
export function draw(plan, row, now) {
  const seen = model(plan, row, now.levelled);
  const count = seen.all.length;
  const fits = Math.max(now.width, 220);
  const wide = now.spread ? Math.max(fits, spreadWidth(count)) : fits;
  const withLoads = now.view !== "dropped";
  const high = Math.min(MOST, Math.max(LEAST, now.height));
  const lanes = high - TOP - AXIS - 6;
  const groundHigh = withLoads ? Math.round(GROUND_SHARE * lanes) : lanes;
  const x = (station) => LEFT + (station / seen.length) * (wide - LEFT - RIGHT);
  const name = `Profile of row ${plan.rows.id[row]}`;
  const drawing = svg("svg", {
    width: wide,
    height: high,
    viewBox: `0 0 ${wide} ${high}`,
    role: "img",
    class: "profile",
  });
  drawing.setAttribute("aria-labelledby", "profile-name profile-words");
  drawing.append(
    svg("title", { id: "profile-name" }, name),
    svg("desc", { id: "profile-words" }, describe(plan, seen)),
  );
  if (!seen.known.length) {
    drawing.append(svg("text", { x: LEFT, y: 60, "font-size": 13 }, "No heights are known along this row."));
    return { drawing, note: "", canSpread: false };
  }
  const upright = scaleOf(plan, seen, groundHigh);
  const y = (height) => TOP + groundHigh - (height - upright.least) * upright.scale;
  const frame = {
    plan,
    seen,
    now,
    x,
    y,
    wide,
    left: LEFT,
    right: wide - RIGHT,
    bottom: TOP + groundHigh,
    top: TOP,
    high,
  };
  drawing.append(profileMarks.sections(frame), heights(frame, upright), ...profileMarks.ground(frame));
  drawing.append(profileMarks.posts(frame), profileMarks.wires(frame), profileMarks.clips(frame), stations(frame));
  if (withLoads) {
    drawing.append(profileLoads.draw(frame, TOP + groundHigh + AXIS, lanes - groundHigh));
  }
  drawing.append(...profileMarks.chosen(frame));
  drawing.addEventListener("click", (event) => {
    const at = ((event.clientX - drawing.getBoundingClientRect().left - LEFT) / (wide - LEFT - RIGHT)) * seen.length;
    const away = seen.station.map((station) => Math.abs(station - at));
    now.pick(seen.all[away.indexOf(Math.min(...away))]);
  });
  const times = (upright.scale * seen.length) / (wide - LEFT - RIGHT);
  return {
    drawing,
    note: times > 1.15 ? `Vertical scale \u00d7${times.toFixed(times < 10 ? 1 : 0)}.` : "",
    canSpread: spreadWidth(count) > fits * 1.1,
  };
}

function spreadWidth(count) {
  return LEFT + RIGHT + SPREAD * (count - 1);
}

/* Pixels per metre of height, the same for ground and wires, and the height at the bottom of the lane. */
function scaleOf(plan, { all, ground, known }, groundHigh) {
  const out = plan.posts.of.height_out_m;
  const tops = known.map((i) => ground[i] + (valueAt(out, all[i]) || 0));
  const least = Math.min(...known.map((i) => ground[i]));
  const span = Math.max(1, Math.max(...tops) - least);
  return { least: least - 0.08 * span, most: least + span, scale: groundHigh / (1.1 * span) };
}

function heights({ y, left, right, bottom, now }, { least, most }) {
  const factor = units.factor("m");
  const step = profileMarks.nice((most - least) * factor, 5);
  const group = svg("g", { "font-size": 12, fill: now.palette.ink });
  for (let k = Math.ceil((least * factor) / step); k * step <= most * factor; k += 1) {
    const at = y((k * step) / factor);
    group.append(
      svg("line", { x1: left - 4, x2: right, y1: at, y2: at, stroke: now.palette.ink, "stroke-opacity": 0.14 }),
    );
    group.append(
      svg("text", { x: left - 8, y: at + 4, "text-anchor": "end" }, Number((k * step).toFixed(1)).toString()),
    );
  }
  const name = now.levelled ? `off the slope, ${units.sign("m")}` : `height, ${units.sign("m")}`;
  group.append(profileMarks.sideways(name, 12, (TOP + bottom) / 2));
  return group;
}

/* Names of the posts along the foot: as many as have room, always every 1st, 2nd, 5th, 10th ... */
function stations({ plan, seen, x, bottom, wide, left, right, now }) {
  const per = (wide - left - (wide - right)) / Math.max(1, seen.all.length - 1);
  const every = [1, 2, 5, 10, 20, 50].find((n) => n * per >= 40) || 100;
  const group = svg("g", { "font-size": 12, fill: now.palette.ink, "text-anchor": "middle" });
  seen.all.forEach((post, i) => {
    if (i % every === 0) {
      // The first name begins beside its post: heights and loads stand to the left of it.
      const first = i === 0 ? { "text-anchor": "start" } : {};
      group.append(
        svg("text", { x: x(seen.station[i]) - (i ? 0 : 6), y: bottom + 15, ...first }, tail(plan.posts.id[post])),
      );
    }
  });
  return group;
}

/* The drawing in two or three sentences, for those who cannot see it. */
function describe(plan, { all, length, ground, known, row }) {
  const { posts } = plan;
  const code = POST_CLASSES.indexOf("two-way");
  const two = all.filter((post) => posts.classes.planned[post] === code).map((post) => tail(posts.id[post]));
  const some = known.map((i) => ground[i]);
  const from = known.length ? units.number(Math.min(...some), "m", 1) : "unknown";
  const to = known.length ? units.amount(Math.max(...some), "m", 1) : "";
  const sections = new Set(all.map((post) => posts.section[post]).filter((one) => one !== null));
  return [
    `${all.length} posts over ${units.amount(length, "m", 1)}; the ground lies between ${from} and ${to}.`,
    `Undulating sections: ${sections.size}.`,
    two.length ? `Two-way posts: ${two.join(", ")}.` : "No two-way posts.",
    `The numbers of row ${plan.rows.id[row]} stand beside it, and as a table.`,
  ].join(" ");
}
