"use strict";
/*
 * The way back from the packed data to what the map draws. Its twin is columns.py.
 * Every place becomes a point of web Mercator at zoom 0, where the world is 256 wide: from there the screen is one
 * multiplication and one subtraction away at any zoom.
 */
Object.assign(PlanMap, {
  // The order of classes.py: a post's or row's class is a number in these lists.
  POST_CLASSES: ["plain", "look", "two-way", "unknown", "end"],
  ROW_CLASSES: ["fixed", "drops", "uncomputed", "adjuster", "beyond"],
});

Object.assign(PlanMap, (() => {
  const WORLD = 256;
  const ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
  const FIVE_BITS = new Map([...ALPHABET].map((sign, value) => [sign, value]));

  function mercator(lon, lat) {
    const sine = Math.sin((lat * Math.PI) / 180);
    return {
      x: WORLD * (lon / 360 + 0.5),
      y: WORLD * (0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI)),
    };
  }

  /* Whole numbers from text, null where there is none. */
  function whole(text) {
    const out = [];
    let code = 0;
    let scale = 1;
    for (const sign of text) {
      const bits = FIVE_BITS.get(sign);
      code += (bits % 32) * scale;
      scale *= 32;
      if (bits < 32) {
        const turned = code - 1;
        out.push(code === 0 ? null : turned % 2 ? -(turned + 1) / 2 : turned / 2);
        code = 0;
        scale = 1;
      }
    }
    return out;
  }

  function numbers(packed) {
    let values = codes(packed);
    if (packed.steps) {
      let last = 0;
      values = values.map((step) => (step === null ? null : (last += step)));
    }
    return { ...packed, values };
  }

  /* Numbers that may repeat. */
  function codes(packed) {
    const values = whole(packed.text);
    if (!packed.runs) {
      return values;
    }
    return whole(packed.runs).flatMap((length, i) => new Array(length).fill(values[i]));
  }

  function words(packed) {
    return codes(packed).map((at) => (at === null ? null : packed.words[at]));
  }

  /* One number of a column, or null. */
  function valueOf(column, line) {
    const value = column.values[line];
    return value === null || value === undefined ? null : value / 10 ** column.decimals;
  }

  /* The wires that a row has, as positions in the plan's list: blocks may have other wires. */
  function wiresOf(plan, row) {
    const block = plan.rows.block[row];
    return plan.wires.flatMap((wire, k) => (wire.blocks.includes(block) ? [k] : []));
  }

  /* Each column of one wire or post by its kind: words have a list of them, numbers have decimals, others nest. */
  function column(packed) {
    if (packed.words) {
      return words(packed);
    }
    if ("decimals" in packed) {
      return numbers(packed);
    }
    return "text" in packed ? codes(packed) : columns(packed);
  }

  function columns(packed) {
    return Object.fromEntries(Object.entries(packed).map(([name, one]) => [name, column(one)]));
  }

  /* Columns that are written as differences from those of the thing before get its numbers added, in place. */
  function addUp(here, before) {
    for (const [name, one] of Object.entries(here)) {
      if (one.like) {
        const base = before[name].values;
        one.values.forEach((value, i) => {
          one.values[i] = value === null ? null : value + (base[i] || 0);
        });
      } else if (!Array.isArray(one) && !one.values) {
        addUp(one, before[name]);
      }
    }
    return here;
  }

  function decode(data) {
    const [lon0, lat0, decimals] = data.origin;
    const step = 10 ** -decimals;
    const at = (x, y) => mercator(lon0 + x * step, lat0 + y * step);

    function path(packed) {
      const points = [];
      let x = 0;
      let y = 0;
      for (let i = 0; i < packed.length; i += 2) {
        x += packed[i];
        y += packed[i + 1];
        points.push(at(x, y));
      }
      return points;
    }

    function shaped(one) {
      return { ...one, rings: one.rings.map(path) };
    }

    function rows(packed) {
      return {
        ...packed,
        block: codes(packed.block),
        class: codes(packed.class),
        zone: codes(packed.zone),
        slope: words(packed.slope),
        paths: packed.paths.map(path),
        lines: packed.lines.map(numbers),
        ends: packed.ends.map((lines) => lines.map(numbers)),
        wires: packed.wires.map(columns),
      };
    }

    function posts(packed, rowIds) {
      const lon = numbers(packed.lon).values;
      const lat = numbers(packed.lat).values;
      const x = new Float64Array(lon.length);
      const y = new Float64Array(lon.length);
      for (let i = 0; i < lon.length; i += 1) {
        const point = at(lon[i], lat[i]);
        x[i] = point.x;
        y[i] = point.y;
      }
      const row = codes(packed.row);
      const id = words(packed.id).map((tail, i) => (tail[0] === "+" ? rowIds[row[i]] : "") + tail.slice(1));
      const classes = Object.fromEntries(Object.entries(packed.classes).map(([view, one]) => [view, codes(one)]));
      return {
        id,
        row,
        section: codes(packed.section),
        classes: { ...classes, dropped: classes.planned.map(endOrNot) },
        x,
        y,
        lines: packed.lines.map(numbers),
        item: words(packed.item),
        slopes: { along: codes(packed.slopes.along), across: codes(packed.slopes.across) },
        clips: packed.clips.map(columns).map((here, k, all) => (k ? addUp(here, all[k - 1]) : here)),
      };
    }

    function sections(packed) {
      return { ...packed, row: codes(packed.row), paths: packed.paths.map(path), lines: packed.lines.map(numbers) };
    }

    function zones(packed) {
      return {
        ...packed,
        block: codes(packed.block),
        rings: packed.rings.map((rings) => rings.map(path)),
        slope: words(packed.slope),
        lines: packed.lines.map(numbers),
        materials: columns(packed.materials),
        tasks: columns(packed.tasks),
      };
    }

    const everyRow = rows(data.rows);
    const everyPost = posts(data.posts, data.rows.id);
    return {
      ...data,
      blocks: data.blocks.map(shaped),
      exclusions: data.exclusions.map(shaped),
      rows: { ...everyRow, ...endsOf(everyRow.id.length, everyPost.row) },
      posts: { ...everyPost, of: Object.fromEntries(everyPost.lines.map((line) => [line.name, line])) },
      zones: zones(data.zones),
      adjusters: adjusters(everyRow),
      sections: sections(data.sections),
      contours: data.backdrop.contours.map((line) => ({ height: line.height, points: path(line.path) })),
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

  /* Where adjusters go: row, how many lines, whether one of the config reaches, the place, and the next point inward. */
  function adjusters({ paths, wires }) {
    return wires.flatMap(({ adjuster, lines }) =>
      adjuster.end.flatMap((end, row) => {
        if (end === null) {
          return [];
        }
        const path = paths[row];
        const [point, inward] = end === "start" ? [path[0], path[1]] : [path[path.length - 1], path[path.length - 2]];
        return [{ row, lines: lines.values[row], reaches: adjuster.kind[row] !== null, point, inward }];
      }),
    );
  }

  /* With the wires let down no clip carries anything: posts only show where the rows are. */
  function endOrNot(code) {
    const end = PlanMap.POST_CLASSES.indexOf("end");
    return code === end ? end : PlanMap.POST_CLASSES.indexOf("plain");
  }

  return { decode, valueOf, wiresOf };
})());
