"use strict";
/*
 * The way back from the packed data to what the map draws. Its twin is columns.py.
 * Every place becomes a point of web Mercator at zoom 0, where the world is 256 wide: from there the screen is one
 * multiplication and one subtraction away at any zoom.
 */
const PlanMap = {
  // The order of classes.py: a post's or row's class is a number in these lists.
  POST_CLASSES: ["plain", "look", "two-way", "unknown", "end"],
  ROW_CLASSES: ["fixed", "drops", "uncomputed", "adjuster", "beyond"],
};

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
    let values = whole(packed.text);
    if (packed.steps) {
      let last = 0;
      values = values.map((step) => (step === null ? null : (last += step)));
    }
    return { ...packed, values };
  }

  /* Small numbers that repeat. */
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

  /* One number as a person reads it; a long dash where there is none. */
  function text(column, line) {
    const value = column.values[line];
    return value === null ? "\u2013" : (value / 10 ** column.decimals).toFixed(column.decimals);
  }

  /* "12345.6" -> "12 345.6": a narrow space that does not break, for no country reads it as a decimal mark. */
  function grouped(value, decimals = 0) {
    const [front, back] = value.toFixed(decimals).split(".");
    const spaced = front.replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
    return back ? `${spaced}.${back}` : spaced;
  }

  /* Each column of one wire or post by its kind: words have a list of them, numbers have decimals, others nest. */
  function column(packed) {
    if (packed.words) {
      return words(packed);
    }
    return "decimals" in packed ? numbers(packed) : columns(packed);
  }

  function columns(packed) {
    return Object.fromEntries(Object.entries(packed).map(([name, one]) => [name, column(one)]));
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
        clips: packed.clips.map(columns),
      };
    }

    function sections(packed) {
      return { ...packed, row: codes(packed.row), paths: packed.paths.map(path), lines: packed.lines.map(numbers) };
    }

    return {
      ...data,
      blocks: data.blocks.map(shaped),
      exclusions: data.exclusions.map(shaped),
      rows: rows(data.rows),
      posts: posts(data.posts, data.rows.id),
      sections: sections(data.sections),
      contours: data.backdrop.contours.map((line) => ({ height: line.height, points: path(line.path) })),
    };
  }

  /* With the wires let down no clip carries anything: posts only show where the rows are. */
  function endOrNot(code) {
    const end = PlanMap.POST_CLASSES.indexOf("end");
    return code === end ? end : PlanMap.POST_CLASSES.indexOf("plain");
  }

  return { decode, text, grouped };
})());
