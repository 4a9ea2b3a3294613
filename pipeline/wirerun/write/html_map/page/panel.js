/* The panel beside the map: totals and findings; and the search box above it. */
import * as areaCards from "./area_cards.js";
import { valueAt } from "./decode.js";
import { button, make, table } from "./elements.js";
import * as labels from "./labels.js";
import { amount, factor, grouped, sign } from "./units.js";

const MOST_FOUND = 8;

export function byId(id) {
  return document.getElementById(id);
}

export function fill(plan) {
  byId("plan-name").textContent = plan.name;
  byId("plan-source").textContent = `${plan.name}; heights from ${plan.heights}`;
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

/* The list of work zones: a click answers what to take there. */
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
}

/* What else would hold the wires, and what it would take: the cheapest sets first. */
export function fixings(plan) {
  byId("fixings").hidden = !plan.fixings.length;
  byId("fixing-list").replaceChildren(
    ...plan.fixings.flatMap(({ holder, options }) => {
      const lines = options.map((one) => [
        one.chosen ? "\u2713" : "",
        [one.kinds, ...(one.tools ? [make("span", { class: "under wrap" }, `tools: ${one.tools}`)] : [])],
        grouped(one.not_held),
        one.cost_per_ha === null ? "\u2013" : grouped(one.cost_per_ha / factor("ha")),
        grouped(one.hours),
      ]);
      const heads = ["", "Fixings", "Posts not held", `${plan.currency}/${sign("ha")}`, "Hours"];
      return [make("h3", {}, holder), table("fixings", heads, [["", lines]])];
    }),
  );
}

export function findings(plan, go, find) {
  const list = byId("findings");
  if (!plan.findings.length) {
    list.append(make("li", {}, "None."));
  }
  plan.findings.forEach((one, index) => {
    const level = make("strong", { class: `level ${one.level}` }, areaCards.LEVEL_WORDS[one.level]);
    const sentence = make("span", {}, ...areaCards.linked(one.message, go, find));
    const item = make("li", {}, level, " ", sentence);
    if (find(one.at)) {
      item.append(
        " ",
        button("Show", () => go("finding", index), "show"),
      );
    } else if (one.place) {
      item.append(" ", make("span", { class: "place" }, `(${labels.shorten(one.place, 80)})`));
    }
    list.append(item);
  });
}

/* "b1 r12 p7" and "B01-R012-P007" are the same to a person: letters and numbers count, zeros in front don't. */
function key(id) {
  return id
    .toUpperCase()
    .replace(/[^A-Z0-9]/g, " ")
    .replace(/(^|\D)0+(?=\d)/g, "$1")
    .replace(/ /g, "");
}

/* Things whose id fits what was typed, the best first: the whole id, then its end, its start, its middle. */
function matches(index, typed) {
  const wanted = key(typed);
  if (!wanted) {
    return [];
  }
  const rank = (name) =>
    [name === wanted, endsWhole(name, wanted), name.startsWith(wanted), name.includes(wanted)].indexOf(true);
  return index
    .map((entry) => ({ ...entry, rank: rank(entry.key) }))
    .filter((entry) => entry.rank >= 0)
    .sort((a, b) => a.rank - b.rank || a.order - b.order)
    .slice(0, MOST_FOUND);
}

function endsWhole(name, wanted) {
  return name.endsWith(wanted) && /[A-Z]/.test(wanted[0]);
}

export function search(things, go) {
  const index = things.map((thing, order) => ({ ...thing, order, key: key(thing.id) }));
  const [form, box, list, status] = ["search", "search-box", "found", "search-status"].map(byId);
  const pick = (thing) => {
    box.value = thing.id;
    list.replaceChildren();
    status.textContent = "";
    go(thing.kind, thing.index);
  };
  const offer = () => {
    const found = matches(index, box.value);
    list.replaceChildren(
      ...found.map((thing) =>
        make(
          "li",
          {},
          button(thing.id, () => pick(thing), "found"),
        ),
      ),
    );
    const none = box.value.trim() && !found.length;
    status.textContent = none ? "No row, post, section, zone or block has this id." : "";
    return found;
  };
  box.addEventListener("input", offer);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const [best] = offer();
    if (best) {
      pick(best);
    }
  });
  /* Hide what was found; return whether there was any. */
  return () => {
    const some = list.childElementCount > 0;
    list.replaceChildren();
    return some;
  };
}
