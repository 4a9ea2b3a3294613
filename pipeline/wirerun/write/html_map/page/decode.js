/* From the plan as the page carries it to what the map draws: every place becomes a point of the world. */
import { POST_CLASSES } from "./classes.js";
import { mercator } from "./world.js";

/* One number of a column, or null. */
export function valueAt(column, line) {
  return column.values[line] ?? null;
}

/* The plan with its paths as points, and what follows from its columns: who stands first and last, where adjusters go. */
export function decode(data) {
  const [lon0, lat0, decimals] = data.origin;
  const step = 10 ** -decimals;

  /* Go along a path in steps from the origin, each pair the way from the point before: east, north. */
  function along(steps, visit) {
    let x = 0;
    let y = 0;
    for (let i = 0; i < steps.length; i += 2) {
      x += steps[i];
      y += steps[i + 1];
      visit(mercator(lon0 + x * step, lat0 + y * step), i / 2);
    }
  }

  function path(steps) {
    const points = [];
    along(steps, (point) => points.push(point));
    return points;
  }

  function shaped(one) {
    return { ...one, rings: one.rings.map(path) };
  }

  function contours(lines) {
    return lines.map((line) => ({ at: line.at, points: path(line.path) }));
  }

  const { posts, rows, sections, zones } = data;
  const everyRow = { ...rows, paths: rows.paths.map(path) };
  const x = new Float64Array(posts.id.length);
  const y = new Float64Array(posts.id.length);
  along(posts.places, (point, i) => {
    x[i] = point.x;
    y[i] = point.y;
  });
  return {
    ...data,
    blocks: data.blocks.map(shaped),
    exclusions: data.exclusions.map(shaped),
    rows: { ...everyRow, ...endsOf(rows.id.length, posts.row) },
    posts: {
      ...posts,
      classes: { ...posts.classes, dropped: posts.classes.planned.map(endOrNot) },
      x,
      y,
      of: Object.fromEntries(posts.lines.map((line) => [line.name, line])),
    },
    adjusters: adjusters(everyRow),
    sections: { ...sections, paths: sections.paths.map(path) },
    left_out: data.left_out.map((one) => ({ ...one, path: path(one.path) })),
    zones: { ...zones, rings: zones.rings.map((rings) => rings.map(path)), middle: middleRows(zones.id, rows.zone) },
    contours: { metres: contours(data.backdrop.contours), feet: contours(data.backdrop.contours_ft) },
  };
}

/* The first and the last post of each row: the posts of a row stand together. */
function endsOf(count, rowOfPost) {
  const first = new Array(count).fill(null);
  const last = new Array(count).fill(null);
  rowOfPost.forEach((row, post) => {
    first[row] = first[row] === null ? post : first[row];
    last[row] = post;
  });
  return { first, last };
}

/* The middle one of each zone's rows, or null. */
function middleRows(ids, zoneOfRow) {
  const rows = ids.map(() => []);
  zoneOfRow.forEach((zone, row) => rows[zone]?.push(row));
  return rows.map((some) => some[Math.floor(some.length / 2)] ?? null);
}

/* The wires that a row has, as positions in the plan's list: blocks may have other wires. */
export function wiresOf(plan, row) {
  const block = plan.rows.block[row];
  return plan.wires.flatMap((wire, k) => (wire.blocks.includes(block) ? [k] : []));
}

/* Where adjusters go: row, how many lines, whether one of the config reaches, the place, and the next point inward. */
function adjusters({ paths, wires }) {
  return wires.flatMap(({ adjuster, lines }) =>
    adjuster.end.flatMap((end, row) => {
      if (end === null) {
        return [];
      }
      const path = paths[row];
      const [point, inward] = end === "start" ? [path[0], path[1]] : [path[path.length - 1], path[path.length - 2]];
      return [{ row, lines: valueAt(lines, row), reaches: adjuster.kind[row] !== null, point, inward }];
    }),
  );
}

/* With the wires let down no clip carries anything: posts only show where the rows are. */
function endOrNot(code) {
  const end = POST_CLASSES.indexOf("end");
  return code === end ? end : POST_CLASSES.indexOf("plain");
}
