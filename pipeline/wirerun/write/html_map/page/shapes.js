/*
 * The marks of the map. Each class of post has a shape of its own as well as a colour, so that the map can be read
 * without colours. The legend draws with the same functions: it cannot differ from the map.
 * Colours started from those of Okabe and Ito (Color Universal Design, 2008) and were moved until every two classes are told
 * apart by people who lack one kind of cones, also where a mark is too small for its shape (test_colours.py).
 */
import COLOURS from "./colours.json" with { type: "json" };

// What the colours of each mark are laid over: its shape, or the pattern of its line in shares of the line's width.
const POSTS = { plain: circle, look: diamond, "two-way": triangle, unknown: cross, end: square };
const ROWS = {
  fixed: { dashes: [], thick: 0.6 },
  drops: { dashes: [], thick: 1 },
  uncomputed: { dashes: [1.2, 1.8], thick: 0.8 },
  adjuster: { dashes: [7, 2.5], thick: 1.25 },
  beyond: { dashes: [0, 2.2], thick: 1.6 },
};
export const SCREEN = COLOURS.screen;
export const DARK = { ...SCREEN, ...COLOURS.dark };
export const PRINT = { ...SCREEN, ...COLOURS.paper, paper: true };

/* The colours of a view: with the wires let down, or slopes on them, the rows speak and the posts are quiet. */
export function paletteOf(palette, quietly) {
  return quietly ? { ...palette, posts: palette.quiet, colourful: palette.posts, quietly } : palette;
}

/* The marks of posts in colour, also where a view draws its posts quietly: a profile always shows its clips. */
export function marksOf(palette) {
  return palette.colourful || palette.posts;
}

/* Half the size in pixels: metres on the ground, but never below or above what a hand and an eye can use. */
const SIZES = {
  plain: [0.3, 1.3, 6],
  look: [0.55, 2.7, 9],
  "two-way": [0.65, 4, 11],
  unknown: [0.5, 3.2, 8],
  end: [0.33, 1.8, 6.5],
};

export function size(name, pixelsPerMetre) {
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

// Marks of one path: many more and the browser is long busy finding out where they overlap.
const AT_ONCE = 100;

/* Draw many posts of one class: a path for each is slow, and one for all is slower. */
export function drawPosts(ctx, palette, name, points, half) {
  const { fill, edge } = palette.posts[name];
  ctx.strokeStyle = edge;
  ctx.lineJoin = "round";
  // No room for an edge on a screen; of a plain dot the darker edge is what shows.
  const small = half < 2.2 && !palette.paper;
  ctx.fillStyle = small && name === "plain" ? edge : fill;
  // Thin edges on small marks, or the edge is all one sees.
  ctx.lineWidth = fill === null ? 2 : half < 3.5 ? 0.6 : half < 5 ? 0.9 : 1.4;
  if (half < 1.5 && (name === "plain" || name === "end")) {
    // So small, a dot is a square.
    const side = 1.8 * half;
    points.forEach(([x, y]) => ctx.fillRect(x - side / 2, y - side / 2, side, side));
    return;
  }
  for (let from = 0; from < points.length; from += AT_ONCE) {
    ctx.beginPath();
    for (const [x, y] of points.slice(from, from + AT_ONCE)) {
      POSTS[name](ctx, x, y, half);
    }
    if (fill !== null) {
      ctx.fill();
    }
    if (fill === null || !small) {
      ctx.stroke();
    }
  }
}

/* Stroke the present path as rows of one class are drawn with their wires let down. */
export function strokeRows(ctx, palette, name, width, solid = false) {
  const { colour, edge } = palette.rows[name];
  const { dashes, thick } = ROWS[name];
  // A dash of no length is a dot where the ends are round.
  ctx.lineCap = dashes[0] === 0 ? "round" : "butt";
  ctx.setLineDash(solid ? [] : dashes.map((share) => share * thick * width));
  for (const [stroke, wide] of edge
    ? [
        [edge, 1.35],
        [colour, 0.85],
      ]
    : [[colour, 1]]) {
    ctx.strokeStyle = stroke;
    ctx.lineWidth = wide * thick * width;
    ctx.stroke();
  }
  ctx.setLineDash([]);
  ctx.lineCap = "butt";
}

/* A finding: a ring with its level in it, "!" to act on and "i" to know. */
export function drawFinding(ctx, palette, level, x, y, half) {
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

/* An adjuster beyond the row's end: a ring with a bar across, or a cross in it where none of the config reaches. */
export function drawAdjuster(ctx, palette, reaches, x, y, half) {
  ctx.beginPath();
  circle(ctx, x, y, half);
  ctx.fillStyle = palette.halo;
  ctx.fill();
  if (reaches) {
    ctx.moveTo(x - half, y);
    ctx.lineTo(x + half, y);
  } else {
    cross(ctx, x, y, 0.7 * half);
  }
  ctx.strokeStyle = palette.adjuster;
  ctx.lineWidth = Math.max(1, 0.32 * half);
  ctx.stroke();
}

/* The width of a slope band on a row: the steeper the class, the broader, so that black and white can be read. */
export function bandWidth(code, count, pixelsPerMetre) {
  const whole = Math.min(22, Math.max(3, 1.7 * pixelsPerMetre));
  return whole * (0.4 + (0.6 * (code + 1)) / count);
}

/* Hatching at 45 degrees over the whole view, fixed to the ground so that it does not jump when the map moves. */
export function hatch(ctx, palette, view) {
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

export function textWithHalo(ctx, palette, text, x, y, colour) {
  ctx.lineJoin = "round";
  ctx.lineWidth = 3;
  ctx.strokeStyle = palette.halo;
  ctx.strokeText(text, x, y);
  ctx.fillStyle = colour;
  ctx.fillText(text, x, y);
}
