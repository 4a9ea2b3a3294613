"use strict";
/* What a popup says. Texts go in as text, never as markup: names come from other people's files. */
PlanMap.popup = (() => {
  const { text, grouped } = PlanMap;

  const POST_WORDS = {
    plain: "Intermediate post, one-way clips",
    look: "Intermediate post: look on site, a two-way clip may be needed",
    "two-way": "Intermediate post with two-way clips",
    unknown: "Intermediate post without loads: a height is missing",
    end: "End post",
  };
  const LEVEL_WORDS = { note: "Note", warning: "Warning", error: "Error" };
  const SIGN =
    "Load on one line of wire, strung tight: + bears down, - pulls up. " +
    "Need: chance that it pulls up by more than a one-way clip holds. A staple holds both ways.";

  /* An element with attributes and children; a child that is a text becomes text. */
  function make(tag, attributes = {}, ...children) {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) {
      if (name === "click") {
        element.addEventListener("click", value);
      } else {
        element.setAttribute(name, value);
      }
    }
    element.append(...children);
    return element;
  }

  function button(label, click, name = "link") {
    return make("button", { type: "button", class: name, click }, label);
  }

  /* Label and value, one line each. */
  function facts(lines) {
    const list = make("dl", { class: "facts" });
    for (const [label, value, meaning] of lines) {
      list.append(make("dt", meaning ? { title: meaning } : {}, label), make("dd", {}, value));
    }
    return list;
  }

  function columnFacts(lines, at) {
    return lines.map((line) => [line.label, withUnit(text(line, at), line.unit), line.meaning]);
  }

  function withUnit(value, unit) {
    const sign = { deg: "\u00b0" }[unit];
    return sign ? value + sign : `${value}${unit ? `\u00a0${unit}` : ""}`;
  }

  function table(heads, lines) {
    const head = make("tr", {}, ...heads.map((one) => make("th", { scope: "col" }, one)));
    const body = lines.map(([first, ...rest]) =>
      make("tr", {}, make("th", { scope: "row" }, first), ...rest.map((one) => make("td", {}, one))),
    );
    return make("table", {}, make("thead", {}, head), make("tbody", {}, ...body));
  }

  /* "0 %" and "100 %" would claim more than anyone knows. */
  function chance(column, at) {
    const value = column.values[at];
    if (value === null) {
      return "\u2013";
    }
    return value === 0 ? "< 1 %" : value === 100 ? "> 99 %" : `${value} %`;
  }

  function post(plan, index, go) {
    const { posts, rows, sections } = plan;
    const name = PlanMap.POST_CLASSES[posts.class[index]];
    const row = posts.row[index];
    const section = posts.section[index];
    const places = make("p", { class: "links" }, button(`Row ${rows.id[row]}`, () => go("row", row)));
    if (section !== null) {
      places.append(button(`Section ${sections.id[section]}`, () => go("section", section)));
    }
    const parts = [make("p", {}, POST_WORDS[name]), facts(columnFacts(posts.lines, index))];
    if (name !== "end") {
      parts.push(clips(plan, index), make("p", { class: "small" }, SIGN));
    }
    return [posts.id[index], ...parts, places, neighbours(plan, index, go)];
  }

  function clips(plan, index) {
    const lines = plan.wires.map((wire, k) => {
      const here = plan.posts.clips[k];
      const dash = "\u2013";
      // A staple holds both ways: no need is asked of it.
      const need = here.certainty[index] === null ? dash : `${here.certainty[index]} (${chance(here.p, index)})`;
      return [wire.id, text(here.load, index), need, here.clip[index] || dash, here.seat[index] || dash];
    });
    return table(["Wire", "Load, N", "Need", "Clip", "Wire sits"], lines);
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
    const { rows } = plan;
    const lines = plan.wires.map((wire, k) => {
      const here = rows.wires[k];
      const tensions = `${text(here.tension_n, index)} / ${text(here.far_end_tension_n, index)}`;
      return [wire.id, text(here.lines, index), tensions, text(here.run_out_m, index)];
    });
    const block = rows.block[index];
    const ends = plan.posts.row.indexOf(index);
    const links = make("p", { class: "links" });
    if (block !== null) {
      links.append(button(`Block ${plan.blocks[block].id}`, () => go("block", block)));
    }
    if (ends >= 0) {
      links.append(button("First post", () => go("post", ends)));
    }
    return [
      rows.id[index],
      make("p", {}, "Row"),
      facts(columnFacts(rows.lines, index)),
      table(["Wire", "Lines", "Tension start / far, N", "Run out, m"], lines),
      links,
    ];
  }

  function section(plan, index, go) {
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

  function block(plan, index) {
    const one = plan.blocks[index];
    const { classes } = one;
    const lines = [
      ["Area", `${one.area_ha.toFixed(2)} ha`],
      ["Rows", grouped(one.rows)],
      ["Row length, level", `${grouped(one.row_m)} m`],
      ["Posts", grouped(Object.values(classes).reduce((sum, n) => sum + n, 0))],
      ["Two-way posts", grouped(classes["two-way"])],
      ["To look at on site", grouped(classes.look)],
      ...plan.wires.map((wire) => [`Wire ${wire.id}`, `${grouped(one.run_out_m[wire.id] || 0)} m`]),
    ];
    return [one.id, make("p", {}, one.name && one.name !== one.id ? `Block ${one.name}` : "Block"), facts(lines)];
  }

  function exclusion(plan, index) {
    return ["Exclusion", make("p", {}, `No row enters here. In block ${plan.exclusions[index].block}.`)];
  }

  function finding(plan, index, go, find) {
    const one = plan.findings[index];
    return [LEVEL_WORDS[one.level], make("p", {}, ...linked(one.message, go, find))];
  }

  /* A sentence in which every id that is on the map can be clicked. */
  function linked(message, go, find) {
    // Number and unit stay on one line.
    const kept = message.replace(/(\d) (?=[%mN]( |[.,;:]|$))/g, "$1\u00a0");
    return kept.split(/([A-Za-z0-9_-]+)/).map((part) => {
      const thing = find(part);
      return thing ? button(part, () => go(thing.kind, thing.index)) : part;
    });
  }

  const makers = { post, row, section, block, exclusion, finding };

  function content(plan, thing, go, find) {
    const [title, ...parts] = makers[thing.kind](plan, thing.index, go, find);
    const heading = make("h2", { tabindex: "-1" }, title);
    // A button that replaces the card is gone before the click gets to the map, which would then take it for its own.
    const click = (event) => event.stopPropagation();
    return make("div", { class: "card", "data-kind": thing.kind, click }, heading, ...parts);
  }

  return { content, make, button, linked, LEVEL_WORDS };
})();
