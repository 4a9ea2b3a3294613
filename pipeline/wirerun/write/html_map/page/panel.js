/* The panel beside the map: totals and findings; and the search box above it. */
import * as areaCards from "./area_cards.js";
import { valueAt } from "./decode.js";
import { button, make, oneStop, table } from "./elements.js";
import * as labels from "./labels.js";
import * as searching from "./search.js";
import { amount, factor, grouped, sentence, sign } from "./units.js";

const MOST_FOUND = 8;

export function byId(id) {
  return document.getElementById(id);
}

export function fill(plan) {
  byId("plan-name").textContent = plan.name;
  byId("plan-blocks").textContent = `Trellis wire plan: ${blockNames(plan)}`;
  byId("plan-source").textContent = `${plan.name}; heights from ${plan.heights}`;
  headline(plan);
  const { totals } = plan;
  const lines = [
    ["Blocks", grouped(totals.blocks)],
    ["Area", amount(totals.area_ha, "ha", 2)],
    ["Rows", grouped(totals.rows)],
    ...areaCards.dropping(totals),
    ["Row length, level", amount(totals.row_m, "m", 0, true)],
    ...areaCards.notIncluded(totals),
    ["Posts", grouped(totals.posts)],
    ["\u2003of these two-way", grouped(totals.classes.planned["two-way"])],
    ...areaCards.adjusters(totals),
    ...plan.wires.map((wire) => [wireWords(plan, wire), amount(wire.run_out_m, "m", 0, true)]),
  ];
  byId("totals").replaceChildren(...pairs(lines));
  byId("missing").hidden = !plan.missing.length;
  byId("missing-list").replaceChildren(
    ...plan.missing.map((one) => make("li", {}, make("strong", { class: "level error" }, one.id), ` ${one.reason}`)),
  );
}

function blockNames({ blocks }) {
  const names = blocks.map(({ id, name }) => (name && name !== id ? `${name} (${id})` : id));
  return labels.shorten(names.join(", "), 80);
}

function pairs(lines) {
  return lines.flatMap(([label, value]) => [make("dt", {}, label), make("dd", {}, value)]);
}

/* Where blocks have a wire otherwise, it is told by block. */
function wireWords(plan, wire) {
  const lines = wire.lines > 1 ? `, ${wire.lines} lines` : "";
  const blocks = wire.blocks.map((at) => plan.blocks[at].id).join(", ");
  const where = hasTwin(plan, wire) ? ` in ${labels.shorten(blocks, 40)}` : "";
  return `Wire ${wire.id} (${amount(wire.height_m, "m", 2)}${lines})${where}`;
}

function hasTwin(plan, wire) {
  return plan.wires.some((other) => other !== wire && other.id === wire.id);
}

/* The totals of what the map shows at the moment. */
export function fillView(plan, here) {
  byId("in-view").replaceChildren(
    ...pairs([
      ["Rows", grouped(here.rows)],
      ["Row length, level", amount(here.row_m, "m", 0, true)],
      ...(here.left_out ? [["Rows not included", grouped(here.left_out)]] : []),
      ["Posts", grouped(here.posts)],
      ["\u2003of these two-way", grouped(here.two_way)],
      ...(plan.totals.adjusters ? [["Adjusters", grouped(here.adjusters)]] : []),
      ...plan.wires.map((wire, k) => [
        hasTwin(plan, wire) ? wireWords(plan, wire) : `Wire ${wire.id}`,
        amount(here.wire_m[k], "m", 0, true),
      ]),
    ]),
  );
}

/* The list of work zones: a click answers what to take there. One Tab for the list, arrow keys within. */
export function zones(plan, go) {
  const { id, lines } = plan.zones;
  byId("zones").hidden = !id.length;
  const hours = lines.find((line) => line.name === "hours");
  byId("zone-list").append(
    ...id.map((name, index) => {
      const work = valueAt(hours, index);
      return make(
        "li",
        {},
        button(name, () => go("zone", index), "zone"),
        make("span", { class: "count" }, `${work}\u00a0h`),
      );
    }),
  );
  oneStop(byId("zone-list"), "button");
}

/* What else would hold the wires, and what it would take: the cheapest sets first. */
export function fixings(plan) {
  byId("fixings").hidden = !plan.fixings.length;
  byId("fixing-list").replaceChildren(
    ...plan.fixings.flatMap(({ holder, options }) => {
      const lines = options.map((one) => [
        [
          ...(one.chosen ? ["\u2713 ", make("span", { class: "unseen" }, "taken: ")] : []),
          one.kinds,
          ...(one.tools ? [make("span", { class: "under wrap" }, `tools: ${one.tools}`)] : []),
        ],
        grouped(one.not_held),
        one.cost_per_ha === null ? "\u2013" : grouped(one.cost_per_ha / factor("ha")),
        grouped(one.hours),
      ]);
      const heads = ["Fixings", "Posts not held", `${plan.currency}/${sign("ha")}`, "Hours"];
      return [make("h3", {}, holder), table("fixings", heads, [["", lines]])];
    }),
  );
}

/* Findings by code, the dearest first; what must be acted on is unfolded. */
export function findings(plan, go, find) {
  const groups = plan.finding_groups.map((group) => {
    const summary = make(
      "summary",
      {},
      make("strong", { class: `level ${group.level}` }, areaCards.LEVEL_WORDS[group.level]),
      ` ${group.meaning} `,
      make("span", { class: "price" }, about(plan, group)),
    );
    const items = group.lines.map((index) => finding(plan, index, go, find));
    const details = make("details", { "data-code": group.code }, summary, make("ul", {}, ...items));
    details.open = group.level !== "note";
    return details;
  });
  byId("findings").replaceChildren(...(groups.length ? groups : [make("p", {}, "None.")]));
  oneStop(byId("findings"), "summary, button");
}

/* What is at stake with some findings, what it costs where that is known, and how many there are. */
function about(plan, { stake, cost, lines }) {
  const money = cost === null ? "" : `, ${cost < 10 ? cost.toFixed(2) : grouped(cost)}\u00a0${plan.currency}`;
  return `(${lines.length > 1 ? `${lines.length}: ` : ""}${stake}${money})`;
}

function finding(plan, index, go, find) {
  const one = plan.findings[index];
  const item = make("li", {}, make("span", {}, ...areaCards.linked(one.message, go, find)));
  if (find(one.at)) {
    item.append(
      " ",
      button("Show", () => go("finding", index), "show"),
    );
  } else if (one.place) {
    item.append(" ", make("span", { class: "place" }, `(${labels.shorten(one.place, 80)})`));
  }
  return item;
}

/* The first questions: what to order, what it costs, how long it takes, what to look at; and what is in none of it. */
function headline(plan) {
  const { headline: told } = plan;
  const part = (words) => make("span", { class: "part" }, words);
  const lines = told.facts.map((fact) => {
    const figure =
      fact.figure === null ? "not priced" : [grouped(fact.figure), fact.unit].filter(Boolean).join("\u00a0");
    return fact.part ? [part(fact.words), part(figure)] : [fact.words, figure];
  });
  const order = told.order.map(({ name, pieces }) =>
    make("li", {}, make("b", {}, grouped(pieces)), ` ${name.toLowerCase()}`),
  );
  byId("headline-order").replaceChildren(...(order.length ? [make("li", {}, "To order:"), ...order] : []));
  byId("headline-facts").replaceChildren(...pairs(lines));
  byId("headline-lacks").replaceChildren(...told.lacks.map((words) => make("li", {}, sentence(words))));
}

/* The map in words, for those who cannot see it. */
export function describe(plan) {
  const { totals } = plan;
  const two = grouped(totals.classes.planned["two-way"]);
  byId("map-words").textContent =
    `${grouped(totals.blocks)} blocks, ${grouped(totals.rows)} rows, ${grouped(totals.posts)} posts, ${two} of them two-way. ` +
    "Arrow keys move the map, plus and minus zoom. A cross marks the middle: Enter opens what is under it. " +
    "Everything on the map is found by the search box, too.";
}

const KIND_WORDS = { block: "Block", zone: "Zone", row: "Row", section: "Section", post: "Post" };

/* `things` gives what can be searched for; it is asked when somebody first comes to the box. */
export function search(plan, things, go) {
  let index = null;
  const [form, box, list, status] = ["search", "search-box", "found", "search-status"].map(byId);
  const shut = () => {
    list.replaceChildren();
    status.textContent = "";
  };
  const pick = (thing) => {
    box.value = thing.id;
    shut();
    go(thing.kind, thing.index);
  };
  /* What a thing is, and in which block: ids of two blocks look alike. */
  const about = ({ kind, block }) => {
    const { id, name } = plan.blocks[block] || {};
    const where = kind === "block" ? name : name && name !== id ? `${id}, ${name}` : id;
    return [KIND_WORDS[kind], where].filter(Boolean).join(" \u00b7 ");
  };
  const offer = () => {
    index = index || searching.indexOf(things(), plan.blocks);
    const answer = searching.search(index, box.value, MOST_FOUND);
    list.replaceChildren(
      ...answer.found.map((thing) => {
        const one = button(thing.id, () => pick(thing), "found");
        one.append(" ", make("span", { class: "under" }, labels.shorten(about(thing), 40)));
        return make("li", {}, one);
      }),
    );
    const none = box.value.trim() && !answer.found.length;
    status.textContent = none ? "No row, post, section, zone or block is called so." : "";
    return answer;
  };
  box.addEventListener("input", offer);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const { found, alike } = offer();
    if (alike === 1) {
      pick(found[0]);
    } else if (alike) {
      status.textContent = `${alike} are called so: choose one.`;
      list.querySelector("button").focus();
    }
  });
  list.addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (step) {
      const all = [...list.querySelectorAll("button")];
      event.preventDefault();
      (all[all.indexOf(document.activeElement) + step] || box).focus();
    }
  });
  box.addEventListener("keydown", (event) => {
    if (event.key === "ArrowDown" && list.firstChild) {
      event.preventDefault();
      list.querySelector("button").focus();
    }
  });
  document.addEventListener("click", (event) => {
    if (!form.contains(event.target)) {
      shut();
    }
  });
  /* Hide what was found; return whether there was any. */
  return () => {
    const some = list.childElementCount > 0;
    shut();
    return some;
  };
}
