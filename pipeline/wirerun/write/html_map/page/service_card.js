/* What the sheet says of a row in service, and of machines in it; nothing where the config gives no numbers for it. */
import { valueAt, wiresOf } from "./decode.js";
import { make, table } from "./elements.js";
import { tail } from "./post_card.js";
import * as units from "./units.js";

const CAUTION =
  "By the numbers of the config; of the line that bears most. No safety determination: a competent person, local codes " +
  "and licensed practice decide.";
const DRIVER = "No safety determination: whoever drives decides.";
// A second cue beside the word, for those who do not see the one that is set in bold.
const MARKS = { over: "\u25b2 over", within: "within", "not known": "not known" };

/* Both parts, folded up: the summary says whether anything is over. */
export function inService(plan, index) {
  return [service(plan, index), machines(plan, index)].filter((part) => part !== null);
}

function service(plan, index) {
  const states = plan.rows.service || [];
  const own = wiresOf(plan, index);
  const groups = states.map(({ state, wires }) => [
    state,
    figures(
      own.map((k) => wires[k]),
      index,
    ),
  ]);
  const over = states.filter(({ wires }) => own.some((k) => wires[k].verdict[index] === "over"));
  return folded(
    states.length,
    "In service",
    over.map(({ state }) => state),
    () => [note(CAUTION), table("service", ["Wire", ...own.map((k) => plan.wires[k].id)], groups)],
  );
}

/* Four lines for each state, a column for each wire. */
function figures(wires, index) {
  const line = (label, unit, ...names) => [
    units.head(label, unit),
    ...wires.map((wire) =>
      names.map((name) => units.number(valueAt(wire[name], index), unit, wire[name].decimals)).join(" / "),
    ),
  ];
  return [
    line("Tension", "N", "tension_n"),
    line("Down / up / aside", "N", "down_n", "up_n", "side_n"),
    line("Knot / fixing used", "%", "knot_used_pct", "fixing_used_pct"),
    ["Verdict, first to give", ...wires.map((wire) => first(wire, index))],
  ];
}

/* The verdict, and under it what gives first and at which post. */
function first(wire, index) {
  const post = wire.at_post[index];
  const gives = wire.gives_first[index];
  const told = gives && post ? `${gives}, ${tail(post)}` : "";
  return [verdict(wire.verdict[index]), make("span", { class: "under wrap" }, told)].flat();
}

function machines(plan, index) {
  const limits = plan.rows.machines || [];
  const lines = limits.map((one) => [
    [one.limit, make("span", { class: "under wrap" }, one.source)],
    ...["grade", "cross", "slope"].map((name) => slope(one, name, index)),
    verdict(one.verdict[index]),
  ]);
  const over = limits.filter((one) => one.verdict[index] === "over").map((one) => one.limit);
  const heads = ["Limit", "Along, %", "Across, %", "Whichever way, %", "Verdict"];
  return folded(limits.length, "For machines", over, () => [note(DRIVER), table("machines", heads, [["", lines]])]);
}

/* What the row has, and under it what the limit allows, where that counts. */
function slope(one, name, index) {
  const column = one[name === "cross" ? "cross_slope_pct" : `${name}_pct`];
  const most = valueAt(one[`most_${name}_pct`], index);
  const under = most === null ? "" : `at most ${units.number(most, "%", column.decimals)}`;
  return [units.number(valueAt(column, index), "%", column.decimals), make("span", { class: "under" }, under)];
}

function verdict(word) {
  const told = MARKS[word] || units.DASH;
  return word === "over" ? [make("strong", {}, told)] : told;
}

function note(text) {
  return make("p", { class: "small" }, text);
}

/* Made when it is opened, as the profile's table is. */
function folded(count, title, over, content) {
  if (!count) {
    return null;
  }
  const said = over.length ? `${title}: over in ${over.join(", ")}` : `${title}: nothing over`;
  const summary = make("summary", {}, title === "For machines" ? said.replace("over in", "over") : said);
  const details = make("details", { class: "every-post in-service" }, summary);
  summary.addEventListener("click", () => {
    if (details.childElementCount === 1) {
      details.append(...content());
    }
  });
  return details;
}
