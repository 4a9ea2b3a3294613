/* Draws where two plans differ, and tells it in words: what became of rows and posts, settings, totals side by side. */
import { carried, draw, make, number, table } from "./parts.js";

/* What may have become of a post, in the order of the data; each mark has a shape of its own beside its colour. */
const MARKS = [
  { name: "added", colour: "#0072b2" },
  { name: "gone", colour: "#b03a00" },
  { name: "moved", colour: "#8e4585" },
  { name: "clips", colour: "#a86b00" },
  { name: "numbers", colour: "#5a6268" },
];
// Pixels from the middle of a mark to its edge: from afar, and from where single posts can be told apart.
const FAR = 2.5;
const NEAR = 5;
const NEAR_ZOOM = 18;
const LINES = {
  same: { color: "#9aa0a5", weight: 1 },
  before: { color: "#b03a00", weight: 1.5, dashArray: "5 4" },
  after: { color: "#0072b2", weight: 1.5 },
};

/* The outline of a mark about a place, as a path on a canvas or in a drawing. */
function trace(path, name, x, y, reach) {
  if (name === "added") {
    path.rect(x - reach, y - reach, 2 * reach, 2 * reach);
  } else if (name === "gone") {
    path.moveTo(x - reach, y - reach);
    path.lineTo(x + reach, y + reach);
    path.moveTo(x - reach, y + reach);
    path.lineTo(x + reach, y - reach);
  } else if (name === "moved") {
    path.moveTo(x, y - reach);
    path.lineTo(x + reach, y + reach);
    path.lineTo(x - reach, y + reach);
    path.closePath();
  } else {
    path.arc(x, y, name === "clips" ? reach : reach / 2, 0, 2 * Math.PI);
  }
}

/* A mark on the map: a circle to the library, which finds it under the pointer; drawn in the mark's own shape. */
function markClass() {
  return L.CircleMarker.extend({
    _updatePath() {
      const context = this._renderer._ctx;
      const { name, colour } = this.options.mark;
      const near = this._map.getZoom() >= NEAR_ZOOM;
      context.beginPath();
      trace(context, name, this._point.x, this._point.y, near ? NEAR : FAR);
      context.lineWidth = name === "gone" || name === "clips" ? (near ? 2.5 : 1.5) : near ? 1 : 0.3;
      context.strokeStyle = name === "gone" || name === "clips" ? colour : "#ffffff";
      context.fillStyle = colour;
      if (name !== "gone" && name !== "clips") {
        context.fill();
      }
      context.stroke();
    },
  });
}

export function start() {
  carried("page-data").then(show);
}

function show(data) {
  const [first] = data.plans;
  document.getElementById("title").textContent = data.title;
  for (const plan of data.plans) {
    document.getElementById("plans").append(make("li", {}, `${plan.letter}  ${plan.folder}`));
  }
  const map = L.map("map", { preferCanvas: true, zoomSnap: 0.25, maxZoom: 24, attributionControl: false });
  L.control.scale({ imperial: false }).addTo(map);
  const shown = L.layerGroup().addTo(map);
  const off = new Set(["numbers"]);
  let one = data.against[0];
  const which = document.getElementById("which");
  which.hidden = data.against.length < 2;
  for (const other of data.against) {
    const choose = () => {
      one = other;
      all();
    };
    which.append(make("button", { type: "button", click: choose }, `${first.letter} and ${other.letter}`));
  }

  function all() {
    [...which.children].forEach((button, at) => {
      button.setAttribute("aria-pressed", String(data.against[at] === one));
    });
    tell(data, one);
    legend(data.words, one, off, () => plot(data.words, one, shown, off));
    plot(data.words, one, shown, off);
  }
  const everywhere = data.against.flatMap((other) =>
    other.rows.flatMap((row) => [...(row.before ?? []), ...(row.after ?? [])]),
  );
  if (everywhere.length) {
    map.fitBounds(L.latLngBounds(everywhere), { padding: [20, 20] });
  }
  all();
  document.body.dataset.page = "shown";
}

/* Put rows and marks on the map. */
function plot(words, one, shown, off) {
  shown.clearLayers();
  for (const row of one.rows) {
    if (row.same) {
      shown.addLayer(L.polyline(row.after ?? row.before, LINES.same));
    } else {
      for (const when of ["before", "after"]) {
        if (row[when]) {
          shown.addLayer(L.polyline(row[when], { ...LINES[when], interactive: false }));
        }
      }
    }
  }
  const { posts } = one;
  const Mark = markClass();
  for (const [code, mark] of [...MARKS.entries()].reverse()) {
    if (off.has(mark.name)) {
      continue;
    }
    posts.mark.forEach((its, at) => {
      if (its !== code) {
        return;
      }
      const place = [posts.lat.values[at], posts.lon.values[at]];
      if (mark.name === "moved") {
        const earlier = [posts.earlier_lat.values[at], posts.earlier_lon.values[at]];
        shown.addLayer(L.polyline([earlier, place], { color: mark.colour, weight: 1, interactive: false }));
      }
      const dot = new Mark(place, { radius: NEAR + 3, mark });
      dot.on("click", () => card(words, one, at));
      shown.addLayer(dot);
    });
  }
}

/* What is known of one post. */
function card(words, one, at) {
  const { posts } = one;
  const box = document.getElementById("card");
  const moved = posts.moved.values[at];
  const lines = [make("strong", {}, posts.id[at]), `: ${words[MARKS[posts.mark[at]].name][1]}`];
  if (moved !== null && moved > 0) {
    lines.push(`; ${number(moved, 2)} m off`);
  }
  box.replaceChildren(
    make("button", { type: "button", click: () => (box.hidden = true) }, "Close"),
    make("p", {}, ...lines),
    ...[posts.clips[at], posts.numbers[at]].filter(Boolean).map((text) => make("p", { class: "soft" }, text)),
  );
  box.hidden = false;
}

/* The legend: each mark with its count, and whether it is shown. */
function legend(words, one, off, redraw) {
  const list = document.getElementById("legend");
  list.replaceChildren();
  MARKS.forEach((mark, code) => {
    const count = one.posts.mark.filter((its) => its === code).length;
    const box = make("input", { type: "checkbox", "data-mark": mark.name });
    box.checked = !off.has(mark.name);
    box.addEventListener("change", () => {
      off[box.checked ? "delete" : "add"](mark.name);
      redraw();
    });
    list.append(make("li", {}, make("label", {}, box, sample(mark), `${words[mark.name][0]}: ${number(count)}`)));
  });
  const other = one.rows.filter((row) => !row.same).length;
  if (other) {
    list.append(make("li", { class: "soft" }, `rows on another line, dashed before, full after: ${number(other)}`));
  }
}

/* A mark as the legend shows it. */
function sample(mark) {
  const steps = [];
  const path = {
    rect: (x, y, w, h) => steps.push(`M${x} ${y}h${w}v${h}h${-w}z`),
    moveTo: (x, y) => steps.push(`M${x} ${y}`),
    lineTo: (x, y) => steps.push(`L${x} ${y}`),
    closePath: () => steps.push("z"),
    arc: (x, y, r) => steps.push(`M${x - r} ${y}a${r} ${r} 0 1 0 ${2 * r} 0a${r} ${r} 0 1 0 ${-2 * r} 0`),
  };
  trace(path, mark.name, 9, 9, NEAR);
  const open = mark.name === "gone" || mark.name === "clips";
  const paint = open ? { fill: "none", stroke: mark.colour, "stroke-width": 2.5 } : { fill: mark.colour };
  return draw("svg", { width: 18, height: 18, "aria-hidden": "true" }, draw("path", { d: steps.join(""), ...paint }));
}

/* What went in, what came out, and totals, in words. */
function tell(data, one) {
  document.getElementById("verdict").textContent = one.verdict;
  const { head, heads, lines } = one.counts;
  const cells = lines.map(([name, ...counts]) => [name, ...counts.map((count) => number(count))]);
  document.getElementById("counts").replaceChildren(make("h2", {}, head), table("counts", heads, cells));
  const parts = { settings: one.settings && wentIn(one), totals: data.totals && totals(data, one) };
  for (const [name, made] of Object.entries(parts)) {
    const box = document.getElementById(name);
    box.hidden = !made;
    box.replaceChildren(...(made ?? []));
  }
}

function wentIn(one) {
  const list = make("dl");
  for (const [place, before, after] of one.settings) {
    list.append(make("dt", {}, place), make("dd", {}, `${before} → ${after}`));
  }
  for (const input of one.inputs) {
    list.append(make("dt", {}, "file"), make("dd", {}, input));
  }
  const made = list.children.length ? list : make("p", { class: "soft" }, "Settings and files are the same.");
  const more = one.more_settings ? [make("p", { class: "soft" }, `and ${one.more_settings} more settings`)] : [];
  return [make("h2", {}, "What went in otherwise"), made, ...more];
}

function totals(data, one) {
  const letters = data.plans.map((plan) => plan.letter);
  const [first] = letters;
  const { what, unit, values } = data.totals;
  const lines = what.map((words, at) => {
    const each = letters.map((letter) => values[letter].values[at]);
    const whole = each.every((value) => value === null || Number.isInteger(value));
    const [before, after] = [values[first].values[at], values[one.letter].values[at]];
    const more = before === null || after === null ? null : after - before;
    const said = more === null ? "–" : `${more > 0 ? "+" : ""}${number(more, whole ? 0 : 2)}`;
    return [unit[at] ? `${words} [${unit[at]}]` : words, ...each.map((value) => number(value, whole ? 0 : 2)), said];
  });
  const differing = lines.filter((line) => !["0", "0.00"].includes(line[line.length - 1]));
  const heads = ["Total", ...letters, `${one.letter} − ${first}`];
  const every = make("details", {}, make("summary", {}, "All totals"), table("totals", heads, lines));
  return [make("h2", {}, "Totals that differ"), table("totals", heads, differing), every];
}
