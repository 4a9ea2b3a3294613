/* What the sheet says of a block, an exclusion, a section, a zone or a finding. */
import { valueAt } from "./decode.js";
import { button, columnFacts, facts, make, table } from "./elements.js";
import { say } from "./terms.js";
import { amount, grouped, sentence } from "./units.js";

export const LEVEL_WORDS = { note: "Note", warning: "Warning", error: "Error" };

export function section(plan, index, go) {
  const { sections, posts } = plan;
  const ends = ["from", "to"].map((end) => sections[end][index]);
  return [
    sections.id[index],
    make("p", {}, "Undulating section: every post in it gets two-way clips"),
    facts([["Posts from", ends[0]], ["Posts to", ends[1]], ...columnFacts(sections.lines, index)]),
    make(
      "p",
      { class: "links" },
      button("First post", () => go("post", posts.id.indexOf(ends[0]))),
      button(`Row ${plan.rows.id[sections.row[index]]}`, () => go("row", sections.row[index])),
    ),
  ];
}

export function block(plan, index) {
  const one = plan.blocks[index];
  const { planned } = one.classes;
  const lines = [
    ["Area", amount(one.area_ha, "ha", 2)],
    ["Rows", grouped(one.rows)],
    ...dropping(one),
    ["Row length, level", amount(one.row_m, "m", 0, true)],
    ...notIncluded(one),
    ["Posts", grouped(Object.values(planned).reduce((sum, n) => sum + n, 0))],
    ["\u2003of these two-way", grouped(planned["two-way"])],
    ["\u2003to look at on site", grouped(planned.look)],
    ...adjusters(one),
    ...plan.wires
      .filter((wire) => wire.blocks.includes(index))
      .map((wire) => [`Wire ${wire.id}`, amount(one.run_out_m[wire.id] || 0, "m", 0, true)]),
  ];
  return [one.id, make("p", {}, one.name && one.name !== one.id ? `Block ${one.name}` : "Block"), facts(lines)];
}

/* How many rows let their wires down by themselves, in all blocks or in one; nothing where no wire is let down. */
export function dropping({ row_classes: rows }) {
  return rows.drops || rows.adjuster || rows.beyond
    ? [
        ["\u2003dropping by themselves", grouped(rows.drops)],
        ["\u2003needing an adjuster", grouped(rows.adjuster + rows.beyond)],
      ]
    : [];
}

/* Rows that could not be planned are in none of the figures: it is said beside them. */
export function notIncluded({ rows_left_out: some, left_out_m: metres }) {
  return some
    ? [
        ["Rows not included", grouped(some)],
        ["\u2003their length", amount(metres, "m", 0, true)],
      ]
    : [];
}

export function adjusters({ adjusters: some, lines_beyond: beyond }) {
  return [
    ...(some || beyond ? [["Adjusters", grouped(some)]] : []),
    ...(beyond ? [["Lines that none reaches", grouped(beyond)]] : []),
  ];
}

export function exclusion(plan, index) {
  return ["Exclusion", make("p", {}, `No row enters here. In block ${plan.exclusions[index].block}.`)];
}

export function finding(plan, index, go, { find }) {
  const one = plan.findings[index];
  return [LEVEL_WORDS[one.level], make("p", {}, ...linked(one.message, go, find))];
}

/* A sentence in which every id that is on the map can be clicked. */
export function linked(message, go, find) {
  // Number and unit stay on one line.
  const kept = sentence(message).replace(/(\d) (?=[%mN]( |[.,;:]|$))/g, "$1\u00a0");
  return kept.split(/([A-Za-z0-9_-]+)/).map((part) => {
    const thing = find(part);
    return thing ? button(part, () => go(thing.kind, thing.index)) : part;
  });
}

/* What to take to a zone, and what is done there in which order. */
export function zone(plan, index, go) {
  const { zones, rows } = plan;
  const ends = [zones.first[index], zones.last[index]];
  const span = ends[0] === ends[1] ? `Row ${ends[0]}` : `Rows ${ends[0]} to ${ends[1]}`;
  const slope = zones.slope[index] === null ? [] : [["Slope class", zones.slope[index]]];
  const links = ends.filter((id, i) => i === 0 || id !== ends[0]).map((id) => rows.id.indexOf(id));
  return [
    zones.id[index],
    make("p", {}, `Work zone. ${span}.`),
    facts([...columnFacts(zones.lines, index), ...slope]),
    make("h3", {}, "Take there"),
    materials(zones.materials, index),
    make("h3", {}, "Tasks, in this order"),
    tasks(zones.tasks, index),
    make(
      "p",
      { class: "links" },
      ...links.filter((at) => at >= 0).map((at) => button(`Row ${rows.id[at]}`, () => go("row", at))),
    ),
  ];
}

function linesOf(frame, index) {
  return frame.zone.flatMap((zone, line) => (zone === index ? [line] : []));
}

function quantity(frame, line) {
  const value = valueAt(frame.quantity, line);
  const unit = frame.unit[line] || "";
  return amount(value, unit === "piece" ? "" : unit, Number.isInteger(value) ? 0 : 1, true);
}

function materials(frame, index) {
  const lines = linesOf(frame, index).map((line) => [frame.item[line], frame.kind[line], quantity(frame, line)]);
  return lines.length
    ? table("take", ["Item", "Kind", "How many"], [["", lines]])
    : make("p", {}, "Nothing is listed.");
}

function tasks(frame, index) {
  const some = linesOf(frame, index);
  if (!some.length) {
    return make("p", {}, "No task is listed.");
  }
  const under = (text) => make("span", { class: "under wrap" }, text);
  const small = (word, text) => (text ? [under(`${word}: ${text}`)] : []);
  const note = (line) => (frame.note[line] ? [under(frame.note[line])] : []);
  const lines = some.map((line, i) => [
    `${i + 1}`,
    [frame.task[line], ...note(line), ...small("load", frame.materials[line]), ...small("tools", frame.tools[line])],
    quantity(frame, line),
    amount(valueAt(frame.hours, line), "", 1),
    amount(valueAt(frame.people, line), "", 0),
  ]);
  return table("tasks", ["No.", "Task", "Quantity", say("Labour hours"), "People"], [["", lines]]);
}
