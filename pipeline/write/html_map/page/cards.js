"use strict";
/* What a popup says of a post and of a row: the numbers of all wires in all states. */
PlanMap.cards = (() => {
  const { text, states } = PlanMap;
  const { make, button, facts, columnFacts, table } = PlanMap.elements;

  const DASH = "\u2013";
  const POST_WORDS = {
    plain: "Intermediate post, one-way clips",
    look: "Intermediate post: look on site, a two-way clip may be needed",
    "two-way": "Intermediate post with two-way clips",
    unknown: "Intermediate post without loads: a height is missing",
    end: "End post",
  };
  const ROW_WORDS = {
    drops: "Row. Its foliage wires drop by themselves.",
    adjuster: "Row. It needs an adjuster to let its foliage wires down.",
    beyond: "Row. It needs an adjuster to let its foliage wires down, and none in the config reaches.",
    uncomputed: "Row. A height is missing, so its wires are not computed.",
    fixed: "Row.",
  };
  const SIGN =
    "Load on one line of wire: + bears down, - pulls up. Need: chance that it pulls up by more than a one-way clip " +
    "holds. A staple holds both ways.";

  /* "0 %" and "100 %" would claim more than anyone knows. */
  function chance(column, at) {
    const value = column.values[at];
    if (value === null) {
      return DASH;
    }
    return value === 0 ? "< 1\u00a0%" : value === 100 ? "> 99\u00a0%" : `${value}\u00a0%`;
  }

  function post(plan, index, go, { view }) {
    const { posts, rows, sections } = plan;
    const name = PlanMap.POST_CLASSES[posts.classes.planned[index]];
    const row = posts.row[index];
    const section = posts.section[index];
    const places = make("p", { class: "links" }, button(`Row ${rows.id[row]}`, () => go("row", row)));
    if (section !== null) {
      places.append(button(`Section ${sections.id[section]}`, () => go("section", section)));
    }
    const parts = [make("p", {}, POST_WORDS[name]), ...inView(plan, index, view)];
    if (name === "end") {
      const end = posts.row[index - 1] === row ? 1 : 0;
      const known = posts.lines.filter((line) => line.values[index] !== null);
      parts.push(facts([...columnFacts(known, index), ...columnFacts(rows.ends[end], row)]));
    } else {
      parts.push(facts(columnFacts(posts.lines, index)), planned(plan, index), ...inStates(plan, index, view));
      parts.push(make("p", { class: "small" }, SIGN));
    }
    return [posts.id[index], ...parts, places, neighbours(plan, index, go)];
  }

  /* What the map's present view says of the post, unless the line above says it. */
  function inView(plan, index, view) {
    const { posts, rows } = plan;
    const name = PlanMap.POST_CLASSES[posts.classes[view][index]];
    const { name: title, posts: words } = states.words(view, plan);
    if (view === "dropped") {
      const row = states.ROWS[PlanMap.ROW_CLASSES[rows.class[posts.row[index]]]];
      const letDown = plan.wires.map((wire, k) => [`Wire ${wire.id}, above ground`, posts.clips[k].dropped]);
      const known = letDown.filter(([, height]) => height.values[index] !== null);
      const heights = known.map(([label, height]) => [label, `${text(height, index)}\u00a0m`]);
      return [make("p", {}, make("b", {}, title), `: ${row}`), facts(heights)];
    }
    return view === "planned" || name === "end" ? [] : [make("p", {}, make("b", {}, title), `: ${words[name]}`)];
  }

  function planned(plan, index) {
    const lines = plan.wires.map((wire, k) => {
      const here = plan.posts.clips[k];
      // A staple holds both ways: no need is asked of it.
      const need = here.certainty[index] === null ? [DASH] : two(here.certainty[index], chance(here.p, index));
      return [wire.id, text(here.load, index), need, two(here.clip[index] || DASH), here.seat[index] || DASH];
    });
    return table("planned", ["Wire", "Least load, N", "Need", "Clip", "Wire sits"], [["", lines]]);
  }

  /* Wires by states: the load, and under it what would hold the wire if that state were all. */
  function inStates(plan, index, view) {
    const shown = plan.views.filter((name) => name in plan.posts.clips[0].states);
    if (!shown.length) {
      return [];
    }
    const head = (name) => make("span", name === view ? { class: "now" } : {}, states.words(name, plan).head);
    const lines = plan.wires.map((wire, k) => [
      wire.id,
      ...shown.map((name) => stateCell(plan.posts.clips[k].states[name], index, name === view)),
    ]);
    return [table("states", ["Load, N", ...shown.map(head)], [["", lines]])];
  }

  function stateCell({ load, held }, index, now) {
    const words = held[index];
    const marks = [now ? "now" : "", words && words.startsWith("two-way") ? "pulls" : ""].join(" ").trim();
    return make("td", marks ? { class: marks } : {}, ...two(text(load, index), ...(words ? words.split(" ") : [])));
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

  function tail(id) {
    return id.slice(id.lastIndexOf("-") + 1);
  }

  function row(plan, index, go) {
    const { rows, posts } = plan;
    const block = rows.block[index];
    const first = posts.row.indexOf(index);
    const links = make("p", { class: "links" });
    if (block !== null) {
      links.append(button(`Block ${plan.blocks[block].id}`, () => go("block", block)));
    }
    if (first >= 0) {
      links.append(button("First post", () => go("post", first)));
      links.append(button("Last post", () => go("post", posts.row.lastIndexOf(index))));
    }
    return [
      rows.id[index],
      make("p", {}, ROW_WORDS[PlanMap.ROW_CLASSES[rows.class[index]]]),
      facts(columnFacts(rows.lines, index)),
      wires(plan, index),
      endPosts(rows, index),
      links,
    ];
  }

  /* A column for each wire, from the ground up, and a line for each figure. */
  function wires(plan, index) {
    const { wires: figures } = plan.rows;
    const { stringing, cold, hot } = plan.celsius;
    const number = (label, name) => [label, ...figures.map((wire) => text(wire[name], index))];
    const word = (label, name) => [label, ...figures.map((wire) => (wire[name][index] || DASH).replace(" ", "\u00a0"))];
    const fitted = (label, say) => [label, ...figures.map((wire) => say(wire.adjuster, wire.take_up_mm.values[index]))];
    const at = (celsius) => `${celsius}\u00a0\u00b0C`.replace("-", "\u2212");
    const groups = [
      ["", [number("Lines", "lines"), number("Run out, m", "run_out_m")]],
      [
        "Tension at the first post, N",
        [
          number(`Strung, ${at(stringing)}`, "tension_n"),
          number(`Cold, ${at(cold)}`, "cold_tension_n"),
          number(`Hot, ${at(hot)}`, "hot_tension_n"),
          number("Lifted, tightest", "lifted_tension_n"),
        ],
      ],
      [
        "Along the row",
        [
          number("Far end when strung, N", "far_end_tension_n"),
          word("Strain from", "strain_from"),
          number("Greatest, any state, N", "greatest_tension_n"),
        ],
      ],
    ];
    if (figures.some((wire) => wire.drops_by_itself[index] !== null)) {
      groups.push([
        "Letting down",
        [
          word("Drops by itself", "drops_by_itself"),
          number("Height at mid-row, m", "dropped_height_m"),
          number("Take-up, mm", "take_up_mm"),
          fitted("Adjuster", ({ kind }, mm) => kind[index] || (mm ? "none reaches" : DASH)),
          fitted("At which end", ({ end }) => end[index] || DASH),
          fitted("Turns", ({ turns }) => text(turns, index)),
        ],
      ]);
    }
    return table("wires", ["Wire", ...plan.wires.map((wire) => wire.id)], groups);
  }

  function endPosts({ ends }, index) {
    const heads = ends[0].map((column) => `${column.label}, ${column.unit}`);
    const lines = ["First", "Last"].map((name, end) => [name, ...ends[end].map((column) => text(column, index))]);
    return table("ends", ["End post", ...heads], [["", lines]]);
  }

  return { post, row };
})();
