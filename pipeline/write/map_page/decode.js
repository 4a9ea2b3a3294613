"use strict";
/*
 * The way back from the packed data to what the map draws. Its twin is map_columns.py.
 * Every place becomes a point of web Mercator at zoom 0, where the world is 256 wide: from there the screen is one
 * multiplication and one subtraction away at any zoom.
 */
const PlanMap = {
  // The order of map_data.py: a post's class is a number in this list.
  POST_CLASSES: ["plain", "look", "two-way", "unknown", "end"],
};

Object.assign(PlanMap, (() => {
  const WORLD = 256;

  function mercator(lon, lat) {
    const sine = Math.sin((lat * Math.PI) / 180);
    return {
      x: WORLD * (lon / 360 + 0.5),
      y: WORLD * (0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI)),
    };
  }

  /* Whole steps, null where there is none. */
  function whole(packed) {
    if (!packed.steps) {
      return packed.values;
    }
    let last = 0;
    return packed.values.map((step) => (step === null ? null : (last += step)));
  }

  function numbers(packed) {
    return { ...packed, values: whole(packed) };
  }

  function words(packed) {
    return packed.at.map((at) => (at === null ? null : packed.words[at]));
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
      const wires = packed.wires.map((wire) =>
        Object.fromEntries(Object.entries(wire).map(([name, column]) => [name, numbers(column)])),
      );
      return { ...packed, paths: packed.paths.map(path), lines: packed.lines.map(numbers), wires };
    }

    function clips(packed) {
      return {
        load: numbers(packed.load),
        p: numbers(packed.p),
        certainty: words(packed.certainty),
        clip: words(packed.clip),
        seat: words(packed.seat),
      };
    }

    function posts(packed, rowIds) {
      const lon = whole(packed.lon);
      const lat = whole(packed.lat);
      const x = new Float64Array(lon.length);
      const y = new Float64Array(lon.length);
      for (let i = 0; i < lon.length; i += 1) {
        const point = at(lon[i], lat[i]);
        x[i] = point.x;
        y[i] = point.y;
      }
      const id = words(packed.id).map((tail, i) => (tail[0] === "+" ? rowIds[packed.row[i]] : "") + tail.slice(1));
      return { ...packed, id, x, y, lines: packed.lines.map(numbers), clips: packed.clips.map(clips) };
    }

    function sections(packed) {
      return { ...packed, paths: packed.paths.map(path), lines: packed.lines.map(numbers) };
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

  return { decode, text, grouped };
})());
