/* What the sheet says of a row: its figures, its wires, its two-way posts and why, and its profile as a table. */
import { POST_CLASSES, ROW_CLASSES } from "./classes.js";
import { valueAt, wiresOf } from "./decode.js";
import { button, columnFacts, facts, make, oneStop, table } from "./elements.js";
import { chance, tail } from "./post_card.js";
import { inService } from "./service_card.js";
import { say } from "./terms.js";
import * as units from "./units.js";

const { DASH } = units;

const ROW_WORDS = {
  drops: "Row. Its foliage wires drop by themselves.",
  adjuster: "Row. It needs an adjuster to let its foliage wires down.",
  beyond: "Row. It needs an adjuster to let its foliage wires down, and none in the config reaches.",
  uncomputed: "Row. A height is missing, so its wires are not computed.",
  fixed: "Row.",
};

export function card(plan, index, go, { view }) {
  const { rows, zones } = plan;
  const block = rows.block[index];
  const first = rows.first[index];
  const zone = rows.zone[index];
  const known = [
    ["Slope class", rows.slope[index]],
    ["Work zone", zone === null ? null : zones.id[zone]],
  ];
  const links = make("p", { class: "links" });
  if (block !== null) {
    links.append(button(`Block ${plan.blocks[block].id}`, () => go("block", block)));
  }
  if (zone !== null) {
    links.append(button(`Zone ${zones.id[zone]}`, () => go("zone", zone)));
  }
  if (first !== null) {
    links.append(button("First post", () => go("post", first)));
    links.append(button("Last post", () => go("post", rows.last[index])));
  }
  return [
    rows.id[index],
    make("p", {}, say(ROW_WORDS[ROW_CLASSES[rows.class[index]]])),
    facts([...columnFacts(rows.lines, index), ...known.filter(([, value]) => value !== null)]),
    wires(plan, index),
    twoWay(plan, index, go),
    endPosts(rows, index),
    ...inService(plan, index),
    everyPost(plan, index, view),
    links,
  ];
}

/* A column for each wire, from the ground up, and a line for each figure. */
function wires(plan, index) {
  const own = wiresOf(plan, index);
  const figures = own.map((k) => plan.rows.wires[k]);
  const { stringing, cold, hot } = plan.celsius;
  const value = (wire, name, unit) => units.number(valueAt(wire[name], index), unit, wire[name].decimals);
  const number = (label, name, unit = "") => [
    unit ? units.head(label, unit) : label,
    ...figures.map((wire) => value(wire, name, unit)),
  ];
  const force = (label, name) => [label, ...figures.map((wire) => value(wire, name, "N"))];
  const word = (label, name) => [label, ...figures.map((wire) => (wire[name][index] || DASH).replace(" ", "\u00a0"))];
  const fitted = (label, say) => [label, ...figures.map((wire) => say(wire.adjuster, wire.take_up_mm.values[index]))];
  const at = units.degrees;
  const groups = [
    [
      "",
      [
        ["From the catalogue", ...figures.map((wire) => wire.wire_item[index] || DASH)],
        number("Lines", "lines"),
        number("One line, ends cut", "cut_m_per_line", "m"),
        number("Tails of one line", "tails_m_per_line", "m"),
        number("Run out", "run_out_m", "m"),
      ],
    ],
    [
      units.head("Tension at the first post", "N"),
      [
        force(`Strung, ${at(stringing)}`, "tension_n"),
        force(`Cold, ${at(cold)}`, "cold_tension_n"),
        force(`Hot, ${at(hot)}`, "hot_tension_n"),
        force("Lifted, tightest", "lifted_tension_n"),
      ],
    ],
    [
      "Along the row",
      [
        number("Far end when strung", "far_end_tension_n", "N"),
        word("Strain from", "strain_from"),
        number("Greatest, any state", "greatest_tension_n", "N"),
      ],
    ],
  ];
  if (figures.some((wire) => wire.drops_by_itself[index] !== null)) {
    groups.push([
      "Letting down",
      [
        word("Drops by itself", "drops_by_itself"),
        number("Height at mid-row", "dropped_height_m", "m"),
        number("Middle 80 % clear of it", "clear_pct", "%"),
        number("Greatest height there", "greatest_up_m", "m"),
        word("What is done", "let_down_by"),
        number("Then at most so high", "left_up_m", "m"),
        number("Take-up", "take_up_mm", "mm"),
        number("Slack to lift", "lift_slack_mm", "mm"),
        fitted("Adjuster", ({ kind }, mm) => kind[index] || (mm ? "none reaches" : DASH)),
        fitted("At which end", ({ end }) => end[index] || DASH),
        fitted("Turns", ({ turns }) => units.number(valueAt(turns, index), "", 1)),
      ],
    ]);
  }
  return table("wires", ["Wire", ...own.map((k) => plan.wires[k].id)], groups);
}

function endPosts({ ends }, index) {
  const heads = ends[0].map((column) => units.head(column.label, column.unit));
  const lines = ["First", "Last"].map((name, end) => [
    name,
    ...ends[end].map((column) => units.number(valueAt(column, index), column.unit, column.decimals)),
  ]);
  return table("ends", ["End post", ...heads], [["", lines]]);
}

/* Which posts get two-way clips and why: the wire that pulls most, how sure that is, the bend of the ground there. */
function twoWay(plan, index, go) {
  const { posts, rows, sections } = plan;
  const code = POST_CLASSES.indexOf("two-way");
  const lines = postsOf(rows, index)
    .filter((post) => posts.classes.planned[post] === code)
    .map((post) => {
      const worst = worstWire(plan, post);
      const here = posts.clips[worst];
      const sure = here.certainty[post];
      const section = posts.section[post];
      // A crew does not change clips from post to post: within a section every post gets them.
      const why = sure === "certain" || sure === "likely" ? `${sure}, ${chance(here.p, post)}` : "lies in the section";
      return [
        button(tail(posts.id[post]), () => go("post", post)),
        [load(here.load, post), make("span", { class: "under" }, plan.wires[worst].id)],
        [why, make("span", { class: "under" }, section === null ? "" : tail(sections.id[section]))],
        units.number(valueAt(posts.of.grade_change_pct, post), "%", 1),
      ];
    });
  if (!lines.length) {
    return make("p", { class: "small" }, "No post of this row gets two-way clips.");
  }
  const heads = ["Two-way post", units.head("Least load", "N"), "Need", "Grade change, %"];
  const made = table("twoway", heads, [["", lines]]);
  oneStop(made, "button");
  return made;
}

function load(column, post) {
  return units.number(valueAt(column, post), "N", column.decimals);
}

/* The clipped wire that pulls up most at a post; a stapled wire is held both ways and does not count. */
function worstWire(plan, post) {
  const { posts } = plan;
  const order = wiresOf(plan, posts.row[post]).map((k) => {
    const here = posts.clips[k];
    return { k, two: here.clip[post] === "two-way", load: here.load.values[post] };
  });
  order.sort((a, b) => b.two - a.two || (a.load === null) - (b.load === null) || a.load - b.load);
  return order[0].k;
}

export function postsOf({ first, last }, index) {
  const from = first[index];
  return from === null ? [] : Array.from({ length: last[index] - from + 1 }, (_, i) => from + i);
}

/* The profile in numbers, for those who cannot see it or want to copy it; made when it is opened. */
function everyPost(plan, index, view) {
  const summary = make("summary", {}, "The profile as a table");
  const details = make("details", { class: "every-post" }, summary);
  // Not on "toggle", which comes a moment after it has been opened.
  summary.addEventListener("click", () => {
    if (details.childElementCount === 1) {
      details.append(profileTable(plan, index, view));
    }
  });
  return details;
}

function profileTable(plan, index, view) {
  const { posts, rows } = plan;
  const own = wiresOf(plan, index);
  const state = posts.clips[0] && view in posts.clips[0].states ? view : null;
  const heads = ["Post", units.head("From start", "m"), units.head("Ground", "m"), "Grade change, %"];
  const loads = own.map((k) => units.head(`${plan.wires[k].id}, load`, "N"));
  const lines = postsOf(rows, index).map((post) => [
    tail(posts.id[post]),
    ...["station_m", "ground_m", "grade_change_pct"].map((name) => {
      const column = posts.of[name];
      return units.number(valueAt(column, post), column.unit, column.decimals);
    }),
    ...own.map((k) => {
      const here = posts.clips[k];
      const held = state ? here.states[state].held[post] : here.clip[post];
      return [load(state ? here.states[state].load : here.load, post), make("span", { class: "under" }, held || "")];
    }),
  ]);
  return table("profile", [...heads, ...loads], [["", lines]]);
}
