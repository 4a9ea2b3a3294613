"use strict";
/* The panel beside the map: totals, layers with their legend, findings; and the search box above it. */
PlanMap.panel = (() => {
  const { grouped, shapes, popup, labels } = PlanMap;
  const { make, button } = popup;
  const MOST_FOUND = 8;

  function byId(id) {
    return document.getElementById(id);
  }

  function fill(plan) {
    byId("plan-name").textContent = plan.name;
    byId("plan-source").textContent = `${plan.name}; heights from ${plan.heights}`;
    const { totals } = plan;
    const lines = [
      ["Blocks", grouped(totals.blocks)],
      ["Area", `${totals.area_ha.toFixed(2)} ha`],
      ["Rows", grouped(totals.rows)],
      ["Row length, level", `${grouped(totals.row_m)} m`],
      ["Posts", grouped(totals.posts)],
      ["\u2003of these two-way", grouped(totals.classes["two-way"])],
      ...plan.wires.map((wire) => [wireWords(wire), `${grouped(wire.run_out_m)} m`]),
    ];
    byId("totals").append(...lines.flatMap(([label, value]) => [make("dt", {}, label), make("dd", {}, value)]));
  }

  function wireWords(wire) {
    const lines = wire.lines > 1 ? `, ${wire.lines} lines` : "";
    return `Wire ${wire.id} (${wire.height_m.toFixed(2)} m${lines})`;
  }

  /* Name in the drawing, words, count; a count of null means that there is nothing to count. */
  function layerLines(plan, marks) {
    const { totals } = plan;
    const { classes } = totals;
    const step = plan.backdrop.contour_step;
    return [
      ["two-way", "Two-way post", classes["two-way"]],
      ["look", "Post to look at on site: two-way clip possible", classes.look],
      ["plain", "Intermediate post", classes.plain],
      ["end", "End post", classes.end],
      ["unknown", "Post without loads", classes.unknown],
      ["sections", "Undulating section", totals.sections],
      ["rows", "Row", totals.rows],
      ["blocks", "Block outline", totals.blocks],
      ["exclusions", "Exclusion", totals.exclusions],
      ["findings", "Finding", marks.length],
      ["contours", `Contour, every ${step} m`, plan.contours.length ? null : 0],
      ["shades", "Shaded ground", plan.backdrop.shades.length ? null : 0],
    ].filter(([, , count]) => count !== 0);
  }

  function legend(plan, marks, show) {
    const list = byId("layers");
    const worst = marks.length ? plan.findings[marks[0].finding].level : "";
    for (const [name, words, count] of layerLines(plan, marks)) {
      const box = make("input", { type: "checkbox", id: `layer-${name}`, checked: "" });
      box.addEventListener("change", () => show(name, box.checked));
      const label = make("label", { for: box.id }, swatch(name, worst), make("span", { class: "words" }, words));
      if (count !== null) {
        label.append(make("span", { class: "count", "data-count": name }, grouped(count)));
      }
      list.append(make("li", { "data-layer": name }, box, label));
    }
  }

  /* A mark as the map draws it, on a small canvas of its own. */
  function swatch(name, level) {
    const canvas = make("canvas", { class: "swatch", "data-mark": name, "data-level": level, "aria-hidden": "true" });
    paintSwatch(canvas, shapes.SCREEN);
    return canvas;
  }

  /* Paper has its own colours, so the legend is painted anew for it. */
  function paintLegend(palette) {
    document.querySelectorAll(".swatch").forEach((canvas) => paintSwatch(canvas, palette));
  }

  function paintSwatch(canvas, palette) {
    const [width, height, ratio] = [30, 20, 3];
    // A new size also wipes what was there.
    canvas.width = width * ratio;
    canvas.height = height * ratio;
    const ctx = canvas.getContext("2d");
    ctx.scale(ratio, ratio);
    const name = canvas.dataset.mark;
    if (name in palette.posts) {
      const half = { plain: 4, end: 4.5 }[name] || 6.5;
      shapes.drawPosts(ctx, palette, name, [[width / 2, height / 2]], half);
    } else {
      drawSwatch(ctx, palette, canvas.dataset, width, height);
    }
  }

  function drawSwatch(ctx, palette, { mark, level }, width, height) {
    const middle = height / 2;
    const line = (colour, thick, dashes) => {
      ctx.beginPath();
      ctx.moveTo(1, middle);
      ctx.lineTo(width - 1, middle);
      ctx.setLineDash(dashes);
      ctx.strokeStyle = colour;
      ctx.lineWidth = thick;
      ctx.stroke();
      ctx.setLineDash([]);
    };
    const drawers = {
      sections: () => {
        line(palette.section, 8, [12, 4]);
        line(palette.ink, 1, []);
      },
      rows: () => line(palette.ink, 1.2, []),
      blocks: () => line(palette.block, 2, [10, 3, 2, 3]),
      contours: () => line(palette.contour, 1.4, []),
      findings: () => shapes.drawFinding(ctx, palette, level, width / 2, middle, 8),
      exclusions: () => {
        ctx.rect(4, 2, width - 8, height - 4);
        ctx.strokeStyle = palette.exclusion;
        ctx.lineWidth = 1.5;
        ctx.stroke();
        ctx.clip();
        shapes.hatch(ctx, palette, { width, height, origin: { x: 0, y: 0 } });
      },
      shades: () => {
        const grey = ctx.createLinearGradient(2, 0, width - 2, height);
        grey.addColorStop(0, "#ffffff");
        grey.addColorStop(1, "#a9a9a9");
        ctx.fillStyle = grey;
        ctx.fillRect(2, 2, width - 4, height - 4);
      },
    };
    drawers[mark]();
  }

  function findings(plan, go, find) {
    const list = byId("findings");
    if (!plan.findings.length) {
      list.append(make("li", {}, "None."));
    }
    plan.findings.forEach((one, index) => {
      const level = make("strong", { class: `level ${one.level}` }, popup.LEVEL_WORDS[one.level]);
      const sentence = make("span", {}, ...popup.linked(one.message, go, find));
      const item = make("li", {}, level, " ", sentence);
      if (find(one.at)) {
        item.append(" ", button("Show", () => go("finding", index), "show"));
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
    const rank = (name) => [name === wanted, endsWhole(name, wanted), name.startsWith(wanted), name.includes(wanted)].indexOf(true);
    return index
      .map((entry) => ({ ...entry, rank: rank(entry.key) }))
      .filter((entry) => entry.rank >= 0)
      .sort((a, b) => a.rank - b.rank || a.order - b.order)
      .slice(0, MOST_FOUND);
  }

  function endsWhole(name, wanted) {
    return name.endsWith(wanted) && /[A-Z]/.test(wanted[0]);
  }

  function search(things, go) {
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
      list.replaceChildren(...found.map((thing) => make("li", {}, button(thing.id, () => pick(thing), "found"))));
      const none = box.value.trim() && !found.length;
      status.textContent = none ? "No row, post, section or block has this id." : "";
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
    return () => list.replaceChildren();
  }

  return { fill, legend, paintLegend, findings, search, byId };
})();
