"use strict";
/* What a popup says of a block, an exclusion, a section or a finding, and the card round every popup. */
PlanMap.popup = (() => {
  const { grouped } = PlanMap;
  const { make, button, facts, columnFacts } = PlanMap.elements;

  const LEVEL_WORDS = { note: "Note", warning: "Warning", error: "Error" };

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
    const { planned } = one.classes;
    const lines = [
      ["Area", `${one.area_ha.toFixed(2)} ha`],
      ["Rows", grouped(one.rows)],
      ...dropping(one),
      ["Row length, level", `${grouped(one.row_m)} m`],
      ["Posts", grouped(Object.values(planned).reduce((sum, n) => sum + n, 0))],
      ["\u2003of these two-way", grouped(planned["two-way"])],
      ["\u2003to look at on site", grouped(planned.look)],
      ...adjusters(one),
      ...plan.wires.map((wire) => [`Wire ${wire.id}`, `${grouped(one.run_out_m[wire.id] || 0)} m`]),
    ];
    return [one.id, make("p", {}, one.name && one.name !== one.id ? `Block ${one.name}` : "Block"), facts(lines)];
  }

  /* How many rows let their wires down by themselves, in all blocks or in one; nothing where no wire is let down. */
  function dropping({ row_classes: rows }) {
    return rows.drops || rows.adjuster || rows.beyond
      ? [
          ["\u2003dropping by themselves", grouped(rows.drops)],
          ["\u2003needing an adjuster", grouped(rows.adjuster + rows.beyond)],
        ]
      : [];
  }

  function adjusters({ adjusters: some, lines_beyond: beyond }) {
    return [
      ...(some || beyond ? [["Adjusters", grouped(some)]] : []),
      ...(beyond ? [["Lines that none reaches", grouped(beyond)]] : []),
    ];
  }

  function exclusion(plan, index) {
    return ["Exclusion", make("p", {}, `No row enters here. In block ${plan.exclusions[index].block}.`)];
  }

  function finding(plan, index, go, { find }) {
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

  const makers = { post: PlanMap.cards.post, row: PlanMap.cards.row, section, block, exclusion, finding };

  /* `now` has what the card also needs: the view that the map shows, and how to find a thing by its id. */
  function content(plan, thing, go, now) {
    const [title, ...parts] = makers[thing.kind](plan, thing.index, go, now);
    const heading = make("h2", { tabindex: "-1" }, title);
    // A button that replaces the card is gone before the click gets to the map, which would then take it for its own.
    const click = (event) => event.stopPropagation();
    return make("div", { class: "card", "data-kind": thing.kind, click }, heading, ...parts);
  }

  return { content, linked, dropping, adjusters, LEVEL_WORDS };
})();
