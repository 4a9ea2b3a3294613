/* What the sheet says of a post: its own numbers, and each wire's in all states. */
import { POST_CLASSES, ROW_CLASSES } from "./classes.js";
import { valueAt, wiresOf } from "./decode.js";
import { button, columnFacts, facts, make, table } from "./elements.js";
import * as states from "./states.js";
import { say } from "./terms.js";
import * as units from "./units.js";

const { DASH } = units;
const POST_WORDS = {
  plain: "Intermediate post, one-way clips",
  look: "Intermediate post: look on site, a two-way clip may be needed",
  "two-way": "Intermediate post with two-way clips",
  unknown: "Intermediate post without loads: a height is missing",
  end: "End post",
};
const SIGN =
  "Load on one line of wire: + presses down, - pulls up. Need: chance that it pulls up by more than a one-way clip " +
  "holds. A staple holds both ways.";

/* "0 %" and "100 %" would claim more than anyone knows. */
export function chance(column, at) {
  const value = column.values[at];
  if (value === null) {
    return DASH;
  }
  return value === 0 ? "< 1\u00a0%" : value === 100 ? "> 99\u00a0%" : `${value}\u00a0%`;
}

export function card(plan, index, go, { view }) {
  const { posts, rows, sections } = plan;
  const name = POST_CLASSES[posts.classes.planned[index]];
  const row = posts.row[index];
  const section = posts.section[index];
  const places = make(
    "p",
    { class: "links" },
    button(`Row ${rows.id[row]}`, () => go("row", row)),
  );
  if (section !== null) {
    places.append(button(`Section ${sections.id[section]}`, () => go("section", section)));
  }
  const parts = [make("p", {}, say(POST_WORDS[name])), ...inView(plan, index, view)];
  if (name === "end") {
    const end = posts.row[index - 1] === row ? 1 : 0;
    const known = posts.lines.filter((line) => line.values[index] !== null && line.name !== "clip_positions");
    parts.push(facts([...columnFacts(known, index), ...bought(plan, index), ...columnFacts(rows.ends[end], row)]));
  } else {
    parts.push(facts([...columnFacts(posts.lines, index), ...bought(plan, index)]), planned(plan, index));
    parts.push(...inStates(plan, index, view), make("p", { class: "small" }, SIGN), held(plan, index));
  }
  return [posts.id[index], neighbours(plan, index, go), ...parts, places];
}

/* What the map's present view says of the post, unless the line above says it. */
function inView(plan, index, view) {
  const { posts, rows } = plan;
  const name = POST_CLASSES[posts.classes[view][index]];
  const { name: title, posts: words } = states.words(view, plan);
  if (view === "dropped") {
    const row = states.row(ROW_CLASSES[rows.class[posts.row[index]]]);
    const own = wiresOf(plan, posts.row[index]);
    const letDown = own.map((k) => [`Wire ${plan.wires[k].id}, above ground`, posts.clips[k].dropped]);
    const known = letDown.filter(([, height]) => height.values[index] !== null);
    const heights = known.map(([label, height]) => [label, units.amount(valueAt(height, index), "m", height.decimals)]);
    return [make("p", {}, make("b", {}, title), `: ${row}`), facts(heights)];
  }
  return view === "planned" || name === "end" ? [] : [make("p", {}, make("b", {}, title), `: ${words[name]}`)];
}

function bought(plan, index) {
  const item = plan.posts.item[index];
  return item === null ? [] : [["Post from the catalogue", item]];
}

/* What each wire is fixed with, how often, and where it is lifted to. */
function held(plan, index) {
  const row = plan.posts.row[index];
  const lines = wiresOf(plan, row).map((k) => {
    const here = plan.posts.clips[k];
    const why = here.fixing_reason[index];
    const lifts = plan.rows.wires[k].lifts[row];
    const heights =
      lifts === null
        ? DASH
        : lifts
            .split(" ")
            .map((height) => units.number(Number(height), "m", 2))
            .join(" ");
    return [
      plan.wires[k].id,
      [here.fixing[index] || DASH, ...(why ? [make("span", { class: "under wrap" }, why)] : [])],
      `${units.number(valueAt(here.pieces, index), "", 0)}`,
      force(here.holds_n, index),
      force(here.load_side_n, index),
      heights,
    ];
  });
  const heads = [
    "Wire",
    "Fixing",
    "Pieces",
    units.head("Holds", "N"),
    units.head("Sideways", "N"),
    units.head("Lifted to", "m"),
  ];
  return table("held", heads, [["", lines]]);
}

function force(column, index) {
  return units.number(valueAt(column, index), "N", column.decimals);
}

function planned(plan, index) {
  const lines = wiresOf(plan, plan.posts.row[index]).map((k) => {
    const here = plan.posts.clips[k];
    // A staple holds both ways: no need is asked of it.
    const need = here.certainty[index] === null ? [DASH] : two(here.certainty[index], chance(here.p, index));
    return [plan.wires[k].id, force(here.load, index), need, two(here.clip[index] || DASH), here.seat[index] || DASH];
  });
  return table("planned", ["Wire", units.head("Least load", "N"), "Need", "Clip", "Wire sits"], [["", lines]]);
}

/* Wires by states: the load, and under it what would hold the wire if that state were all. */
function inStates(plan, index, view) {
  const shown = plan.views.filter((name) => name in plan.posts.clips[0].states);
  if (!shown.length) {
    return [];
  }
  const head = (name) => make("span", name === view ? { class: "now" } : {}, states.words(name, plan).head);
  const lines = wiresOf(plan, plan.posts.row[index]).map((k) => [
    plan.wires[k].id,
    ...shown.map((name) => stateCell(plan.posts.clips[k].states[name], index, name === view)),
  ]);
  return [table("states", [units.head("Load", "N"), ...shown.map(head)], [["", lines]])];
}

function stateCell({ load, held }, index, now) {
  const words = held[index];
  const marks = [now ? "now" : "", words?.startsWith("two-way") ? "pulls" : ""].join(" ").trim();
  return make("td", marks ? { class: marks } : {}, ...two(force(load, index), ...(words ? words.split(" ") : [])));
}

/* What a cell says, and small under it what belongs to it: a narrow screen has no room side by side. */
function two(main, ...small) {
  return [make("span", { class: "main" }, main), ...small.map((one) => make("span", { class: "under" }, one))];
}

function neighbours(plan, index, go) {
  const { row, id } = plan.posts;
  const nav = make("p", { class: "links" });
  if (row[index - 1] === row[index]) {
    nav.append(button(`\u2039 ${tail(id[index - 1])}`, () => go("post", index - 1), "step"));
  }
  if (row[index + 1] === row[index]) {
    nav.append(button(`${tail(id[index + 1])} \u203a`, () => go("post", index + 1), "step"));
  }
  return nav;
}

export function tail(id) {
  return id.slice(id.lastIndexOf("-") + 1);
}
