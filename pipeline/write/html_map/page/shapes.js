"use strict";
/*
 * The marks of the map. Each class of post has a shape of its own as well as a colour, so that the map can be read
 * without colours. The legend draws with the same functions: it cannot differ from the map.
 * Colours are those of Okabe and Ito (Color Universal Design, 2008), made to be told apart by colour-blind people.
 */
PlanMap.shapes = (() => {
  const SCREEN = {
    ink: "#1c2329",
    halo: "#ffffff",
    row: "rgba(28, 35, 41, 0.5)",
    block: "#1c2329",
    contour: "rgba(96, 84, 66, 0.45)",
    contourText: "#5b4f3e",
    exclusion: "#4a4f55",
    section: "#cc79a7",
    selected: "#000000",
    warning: "#f0e442",
    posts: {
      plain: { shape: circle, fill: "#56b4e9", edge: "#0072b2" },
      look: { shape: diamond, fill: "#e69f00", edge: "#5c3f00" },
      "two-way": { shape: triangle, fill: "#d55e00", edge: "#4a1f00" },
      unknown: { shape: cross, fill: null, edge: "#1c2329" },
      end: { shape: square, fill: "#1c2329", edge: "#ffffff" },
    },
    // Rows with their wires let down: colours that no post has, and a pattern each, in shares of the line's width.
    rows: {
      fixed: { colour: "#5a6268", dashes: [], thick: 0.6 },
      drops: { colour: "#009e73", dashes: [], thick: 1 },
      uncomputed: { colour: "#1c2329", dashes: [1.2, 1.8], thick: 0.8 },
      adjuster: { colour: "#0072b2", dashes: [7, 2.5], thick: 1.25 },
      beyond: { colour: "#cc79a7", edge: "#1c2329", dashes: [0, 2.2], thick: 1.6 },
    },
    // Posts that only show where the rows are.
    quiet: {
      plain: { shape: circle, fill: "#ffffff", edge: "#4d565e" },
      end: { shape: square, fill: "#4d565e", edge: "#ffffff" },
    },
  };

  const PRINT = {
    ...SCREEN,
    paper: true,
    row: "#777777",
    contour: "#bbbbbb",
    contourText: "#555555",
    exclusion: "#000000",
    section: "#999999",
    warning: "#ffffff",
    posts: {
      plain: { shape: circle, fill: "#ffffff", edge: "#000000" },
      look: { shape: diamond, fill: "#ffffff", edge: "#000000" },
      "two-way": { shape: triangle, fill: "#000000", edge: "#ffffff" },
      unknown: { shape: cross, fill: null, edge: "#000000" },
      end: { shape: square, fill: "#000000", edge: "#ffffff" },
    },
    rows: {
      fixed: { colour: "#999999", dashes: [], thick: 0.6 },
      drops: { colour: "#777777", dashes: [], thick: 0.7 },
      uncomputed: { colour: "#000000", dashes: [1.2, 1.8], thick: 0.8 },
      adjuster: { colour: "#000000", dashes: [7, 2.5], thick: 1.4 },
      beyond: { colour: "#ffffff", edge: "#000000", dashes: [0, 2.2], thick: 1.6 },
    },
    quiet: {
      plain: { shape: circle, fill: "#999999", edge: "#999999" },
      end: { shape: square, fill: "#000000", edge: "#ffffff" },
    },
  };

  /* The colours of a view: with the wires let down the rows speak and the posts are quiet. */
  function paletteOf(palette, view) {
    return view === "dropped" ? { ...palette, posts: palette.quiet } : palette;
  }

  /* Half the size in pixels: metres on the ground, but never below or above what a hand and an eye can use. */
  const SIZES = {
    plain: [0.3, 1.3, 6],
    look: [0.55, 2.7, 9],
    "two-way": [0.65, 4, 11],
    unknown: [0.5, 3.2, 8],
    end: [0.33, 1.8, 6.5],
  };

  function size(name, pixelsPerMetre) {
    const [metres, least, most] = SIZES[name];
    // Below two pixels a metre even the least size would run together.
    const crowd = Math.min(1, Math.max(0.45, pixelsPerMetre / 2));
    return Math.min(most, Math.max(least * crowd, metres * pixelsPerMetre));
  }

  function circle(ctx, x, y, half) {
    ctx.moveTo(x + half, y);
    ctx.arc(x, y, half, 0, 2 * Math.PI);
  }

  function square(ctx, x, y, half) {
    ctx.rect(x - half, y - half, 2 * half, 2 * half);
  }

  function diamond(ctx, x, y, half) {
    ctx.moveTo(x, y - half);
    ctx.lineTo(x + half, y);
    ctx.lineTo(x, y + half);
    ctx.lineTo(x - half, y);
    ctx.closePath();
  }

  function triangle(ctx, x, y, half) {
    ctx.moveTo(x, y - half);
    ctx.lineTo(x + half, y + 0.8 * half);
    ctx.lineTo(x - half, y + 0.8 * half);
    ctx.closePath();
  }

  function cross(ctx, x, y, half) {
    ctx.moveTo(x - half, y - half);
    ctx.lineTo(x + half, y + half);
    ctx.moveTo(x + half, y - half);
    ctx.lineTo(x - half, y + half);
  }

  /* Draw many posts of one class at once: one path is many times faster than one path each. */
  function drawPosts(ctx, palette, name, points, half) {
    const { shape, fill, edge } = palette.posts[name];
    ctx.beginPath();
    for (const [x, y] of points) {
      shape(ctx, x, y, half);
    }
    ctx.strokeStyle = edge;
    ctx.lineJoin = "round";
    if (fill === null) {
      ctx.lineWidth = 2;
      ctx.stroke();
      return;
    }
    ctx.fillStyle = fill;
    if (half < 2.2 && !palette.paper) {
      // No room for an edge on a screen; of a plain dot the darker edge is what shows.
      ctx.fillStyle = name === "plain" ? edge : fill;
      ctx.fill();
      return;
    }
    // Thin edges on small marks, or the edge is all one sees.
    ctx.lineWidth = half < 3.5 ? 0.6 : half < 5 ? 0.9 : 1.4;
    ctx.fill();
    ctx.stroke();
  }

  /* Stroke the present path as rows of one class are drawn with their wires let down. */
  function strokeRows(ctx, palette, name, width) {
    const { colour, edge, dashes, thick } = palette.rows[name];
    // A dash of no length is a dot where the ends are round.
    ctx.lineCap = dashes[0] === 0 ? "round" : "butt";
    ctx.setLineDash(dashes.map((share) => share * thick * width));
    for (const [stroke, wide] of edge ? [[edge, 1.35], [colour, 0.85]] : [[colour, 1]]) {
      ctx.strokeStyle = stroke;
      ctx.lineWidth = wide * thick * width;
      ctx.stroke();
    }
    ctx.setLineDash([]);
    ctx.lineCap = "butt";
  }

  /* A finding: a ring with its level in it, "!" to act on and "i" to know. */
  function drawFinding(ctx, palette, level, x, y, half) {
    ctx.beginPath();
    circle(ctx, x, y, half);
    ctx.fillStyle = { note: palette.halo, warning: palette.warning, error: palette.ink }[level];
    ctx.strokeStyle = palette.ink;
    ctx.lineWidth = 2;
    ctx.fill();
    ctx.stroke();
    ctx.fillStyle = level === "error" ? palette.halo : palette.ink;
    ctx.font = `bold ${Math.round(1.5 * half)}px system-ui, sans-serif`;
    ctx.textAlign = "center";
    ctx.textBaseline = "middle";
    ctx.fillText(level === "note" ? "i" : "!", x, y + 0.5);
  }

  /* Hatching at 45 degrees over the whole view, fixed to the ground so that it does not jump when the map moves. */
  function hatch(ctx, palette, view) {
    const gap = 7;
    const shift = (view.origin.x - view.origin.y) % gap;
    ctx.beginPath();
    for (let start = -gap * Math.ceil(view.height / gap) - shift; start < view.width; start += gap) {
      ctx.moveTo(start, 0);
      ctx.lineTo(start + view.height, view.height);
    }
    ctx.strokeStyle = palette.exclusion;
    ctx.lineWidth = 1;
    ctx.stroke();
  }

  function textWithHalo(ctx, palette, text, x, y, colour) {
    ctx.lineJoin = "round";
    ctx.lineWidth = 3;
    ctx.strokeStyle = palette.halo;
    ctx.strokeText(text, x, y);
    ctx.fillStyle = colour;
    ctx.fillText(text, x, y);
  }

  return { SCREEN, PRINT, paletteOf, size, drawPosts, strokeRows, drawFinding, hatch, textWithHalo };
})();
