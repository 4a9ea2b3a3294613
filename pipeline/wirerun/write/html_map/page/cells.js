/*
 * Posts where they run together: cells of the screen instead of a wash of marks. A square's side tells how many of the
 * posts in its cell are of the class, its shape and colour which class.
 */
import { POST_CLASSES } from "./classes.js";
import * as shapes from "./shapes.js";

const SIDE = 11; // pixels of a cell (choice)
const TOLD = ["look", "two-way", "unknown"]; // what a person looks for from afar; the rest is shown by the rows
const LEAST = 0.35; // of the side: one post in a cell of many is still seen (choice)

/* How many posts of each class lie in each cell: a map from "column,row" to [counts by class, all]. */
export function count(x, y, classes, place, { origin, width, height }) {
  const found = new Map();
  // Cells hang on the ground, or they would flicker when the map is moved.
  const [right, down] = [origin.x % SIDE, origin.y % SIDE];
  for (let i = 0; i < x.length; i += 1) {
    const [px, py] = place({ x: x[i], y: y[i] });
    if (px >= 0 && py >= 0 && px < width && py < height) {
      const at = [Math.floor((px + right) / SIDE), Math.floor((py + down) / SIDE)];
      const name = at.join(",");
      const cell = found.get(name) || {
        x: (at[0] + 0.5) * SIDE - right,
        y: (at[1] + 0.5) * SIDE - down,
        all: 0,
        of: POST_CLASSES.map(() => 0),
      };
      cell.all += 1;
      cell.of[classes[i]] += 1;
      found.set(name, cell);
    }
  }
  return [...found.values()];
}

export function posts(ctx, view, plan, palette, layer) {
  const { x, y } = plan.posts;
  const all = count(x, y, layer.postClasses(), view.place, view);
  for (const name of TOLD) {
    if (!layer.isOn(name)) {
      continue;
    }
    const code = POST_CLASSES.indexOf(name);
    for (const cell of all) {
      // The worse class has the cell, should both be in it.
      const worse = TOLD.slice(TOLD.indexOf(name) + 1).some(
        (other) => layer.isOn(other) && cell.of[POST_CLASSES.indexOf(other)],
      );
      if (cell.of[code] && !worse) {
        const share = Math.sqrt(cell.of[code] / cell.all);
        shapes.drawPosts(ctx, palette, name, [[cell.x, cell.y]], (SIDE / 2) * Math.max(LEAST, share));
      }
    }
  }
}
