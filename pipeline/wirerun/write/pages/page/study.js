/* Ways to plant, side by side: a chart, the picked case in words, small maps of the best, and all cases as a table. */
import { MARKS, mark, markOf } from "./marks.js";
import { carried, draw, make, number, table } from "./parts.js";
import { polar } from "./polar.js";
import { scatter } from "./scatter.js";

const DIRECTION = "direction";

export function start() {
  carried("page-data").then(show);
}

function show(data) {
  const turned = new Set(data.bearing.values.filter((value) => value !== null)).size > 2;
  const state = { picked: 0, sort: null, rising: true };
  document.getElementById("title").textContent = `${data.name}: ways to plant`;
  const whole = data.whole.filter(Boolean).length;
  document.getElementById("about").textContent =
    `${data.block ? `Block ${data.block}. ` : ""}${data.case.length} cases, ${whole} of them planned whole` +
    `${whole < data.case.length ? ": only these have two-way clips, cost and hours" : ""}. ` +
    `C000 is the config as it stands. What counts: ${data.wanted.map((name) => headOf(data, name)).join(", ") || "nothing that is known"}.`;
  const measure = document.getElementById("measure");
  const against = document.getElementById("against");
  for (const one of data.measures) {
    measure.append(make("option", { value: one.name }, one.head));
    against.append(make("option", { value: one.name }, one.head));
  }
  if (turned) {
    against.prepend(make("option", { value: DIRECTION }, "direction"));
  }
  measure.value = data.wanted[0] ?? data.measures[0].name;
  against.value = turned ? DIRECTION : (data.wanted[1] ?? data.measures[1].name);
  const which = document.getElementById("which");

  function pick(case_) {
    state.picked = case_;
    all();
  }
  function all() {
    chart(data, state, measure.value, against.value, pick);
    picked(data, state.picked);
    maps(data, state.picked, pick);
    cases(data, state, which.value, pick, all);
  }
  for (const one of [measure, against, which]) {
    one.addEventListener("change", all);
  }
  legend(data);
  all();
  document.body.dataset.page = "shown";
}

function headOf(data, name) {
  return data.measures.find((one) => one.name === name).head;
}

function chart(data, state, up, across, pick) {
  const [one, other] = [up, across].map((name) => data.measures.find((measure) => measure.name === name));
  const drawn =
    across === DIRECTION ? polar(data, one, state.picked, pick) : scatter(data, other, one, state.picked, pick);
  document.getElementById("chart").replaceChildren(drawn);
}

function legend(data) {
  const there = new Set(data.case.map((_, at) => markOf(data, at)));
  const list = document.getElementById("legend");
  for (const [name, { words }] of Object.entries(MARKS)) {
    if (there.has(name)) {
      list.append(make("li", {}, draw("svg", { width: 18, height: 18 }, mark(name, 9, 9)), ` ${words}`));
    }
  }
  list.append(make("li", {}, "dashed: as the config has it"));
}

/* The picked case beside the config's own. */
function picked(data, at) {
  const name = (case_) => {
    const settings = data.keys.map((key) => `${key.name} ${key.values[case_] || "–"}`);
    return `${data.case[case_]}${settings.length ? `: ${settings.join(", ")}` : ""}`;
  };
  const box = document.getElementById("picked");
  box.replaceChildren(make("h2", {}, name(at)));
  for (const [words, text] of [
    ["Ruled out: ", data.ruled_out[at]],
    ["Failed: ", data.failed[at]],
    ["", data.front[at] ? "One of the best: no other case is better in all that counts." : ""],
    ["", data.whole[at] ? "" : "Not planned whole: clips, hours and cost are not known."],
  ]) {
    if (text) {
      box.append(make("p", {}, words + text));
    }
  }
  const lines = data.measures.map((one) => {
    const [own, here] = [one.values[0], one.values[at]];
    const more = own === null || here === null ? null : here - own;
    const said = more === null ? "–" : `${more > 0 ? "+" : ""}${number(more, one.decimals)}`;
    const head = one.unit ? `${one.head} [${one.unit}]` : one.head;
    return [make("span", { title: one.meaning }, head), number(here, one.decimals), said];
  });
  for (const rule of data.rules) {
    const [own, here] = [rule.values[0], rule.values[at]];
    const head = make("span", { title: `${rule.about} ${rule.source}` }, `rows that break ${rule.name}`);
    lines.push([head, number(here), `${here > own ? "+" : ""}${number(here - own)}`]);
  }
  box.append(table("facts", ["Measure", data.case[at], "more than C000"], lines));
}

/* Rows of the chosen few. */
function maps(data, at, pick) {
  const list = make("ul");
  for (const one of data.maps) {
    const case_ = data.case.indexOf(one.case);
    const words = data.keys.map((key) => `${key.name.split(".").pop()} ${key.values[case_] || "–"}`).join(", ");
    const counts = data.wanted.map((name) => {
      const measure = data.measures.find((each) => each.name === name);
      return `${measure.head} ${number(measure.values[case_], measure.decimals)} ${measure.unit}`;
    });
    const button = make(
      "button",
      { type: "button", "aria-pressed": String(case_ === at), click: () => pick(case_) },
      smallMap(data.outlines, one.rows),
      make("strong", {}, `${one.case}: ${words}`),
      ...counts.map((text) => make("div", { class: "soft" }, text)),
    );
    list.append(make("li", {}, button));
  }
  document
    .getElementById("maps")
    .replaceChildren(
      make("h2", {}, "As it stands, and the best"),
      make("p", { class: "soft" }, "Of many rows, every so manyth is drawn."),
      list,
    );
}

function smallMap(outlines, rows) {
  const points = outlines.flat();
  const [xs, ys] = [0, 1].map((axis) => points.map((point) => point[axis]));
  const [west, east, south, north] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  const edge = 0.03 * Math.max(east - west, north - south);
  const path = (lines, end) => lines.map((line) => `M${line.map(([x, y]) => `${x} ${-y}`).join("L")}${end}`).join("");
  const box = [west - edge, -north - edge, east - west + 2 * edge, north - south + 2 * edge];
  const thin = { "vector-effect": "non-scaling-stroke" };
  return draw(
    "svg",
    { viewBox: box.join(" "), "aria-hidden": "true" },
    draw("path", { d: path(outlines, "z"), fill: "#e4efe9", "fill-rule": "evenodd", stroke: "#1f5f4a", ...thin }),
    draw("path", { d: path(rows, ""), fill: "none", stroke: "#1c2329", "stroke-width": 0.7, ...thin }),
  );
}

/* All cases, sorted by the column that was clicked. */
function cases(data, state, which, pick, again) {
  const columns = [
    { name: "case", head: "case", words: data.case },
    ...data.keys.map((key) => ({
      name: key.name,
      head: key.name.split(".").pop().replaceAll("_", " "),
      words: key.values,
    })),
    ...data.measures,
    ...data.rules.map((rule) => ({ ...rule, head: `break ${rule.name}`, unit: "" })),
  ];
  const sorted = columns.find((one) => one.name === state.sort);
  const order = data.case.map((_, at) => at).filter((at) => which === "all" || markOf(data, at) !== "out");
  const kept = which === "front" ? order.filter((at) => data.front[at] || at === 0) : order;
  if (sorted) {
    kept.sort((one, other) => (state.rising ? 1 : -1) * compare(sorted, one, other));
  }
  const heads = columns.map((one) => {
    const arrow = one === sorted ? (state.rising ? " ▲" : " ▼") : "";
    const sort = () => {
      state.rising = state.sort === one.name ? !state.rising : true;
      state.sort = one.name;
      again();
    };
    const unit = one.unit ? ` [${one.unit}]` : "";
    return make("button", { type: "button", title: one.meaning ?? "", click: sort }, `${one.head}${unit}${arrow}`);
  });
  const lines = kept.map((at) => columns.map((one) => one.words?.[at] ?? number(one.values[at], one.decimals)));
  const made = table("cases", heads, lines);
  [...made.querySelectorAll("thead th")].forEach((head, at) => {
    const way = columns[at] === sorted ? (state.rising ? "ascending" : "descending") : "none";
    head.setAttribute("aria-sort", way);
  });
  [...made.querySelectorAll("tbody tr")].forEach((line, number_) => {
    const at = kept[number_];
    line.classList.add(markOf(data, at));
    line.classList.toggle("picked", at === state.picked);
    line.title = data.ruled_out[at] || data.failed[at];
    line.addEventListener("click", () => pick(at));
  });
  const box = document.getElementById("table");
  const { scrollTop, scrollLeft } = box;
  box.replaceChildren(made.firstChild);
  Object.assign(box, { scrollTop, scrollLeft });
}

function compare(column, one, other) {
  if (column.words) {
    return column.words[one].localeCompare(column.words[other], "en", { numeric: true });
  }
  const [a, b] = [column.values[one], column.values[other]];
  return (a === null) - (b === null) || a - b;
}
