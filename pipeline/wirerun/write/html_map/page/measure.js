/*
 * Distances along clicked points and the area they enclose, in ground metres as the plan has them: in the horizontal,
 * at the mean height of the blocks.
 */
import COLOURS from "./colours.json" with { type: "json" };
import * as cover from "./cover.js";
import { make } from "./elements.js";
import * as units from "./units.js";

// WGS 84: equatorial radius [m] and first eccentricity squared.
const RADIUS_M = 6378137;
const E2 = 0.00669437999014;
const LABELS = { middle: "Add point at centre", back: "Undo", close: "Finish area", done: "Done" };

/* Ground metres of a degree of longitude and of latitude at a latitude [deg] and height [m]. */
function metresPerDegree(latitude, height) {
  const sine = Math.sin((latitude * Math.PI) / 180);
  const w = Math.sqrt(1 - E2 * sine * sine);
  const across = RADIUS_M / w + height;
  const along = (RADIUS_M * (1 - E2)) / w ** 3 + height;
  return { lon: (across * Math.cos((latitude * Math.PI) / 180) * Math.PI) / 180, lat: (along * Math.PI) / 180 };
}

/* Metres between two places: over a few kilometres within a few parts in a million of the geodesic. */
export function distance(a, b, height) {
  const per = metresPerDegree((a.lat + b.lat) / 2, height);
  return Math.hypot((b.lng - a.lng) * per.lon, (b.lat - a.lat) * per.lat);
}

export function length(points, height) {
  return points.slice(1).reduce((sum, point, i) => sum + distance(points[i], point, height), 0);
}

/* Square metres within a ring of places, by the shoelace rule about its first corner. */
export function area(points, height) {
  const middle = points.reduce((sum, point) => sum + point.lat, 0) / points.length;
  const per = metresPerDegree(middle, height);
  const [x, y] = [
    points.map((p) => (p.lng - points[0].lng) * per.lon),
    points.map((p) => (p.lat - points[0].lat) * per.lat),
  ];
  const twice = points.reduce((sum, _, i) => {
    const j = (i + 1) % points.length;
    return sum + x[i] * y[j] - x[j] * y[i];
  }, 0);
  return Math.abs(twice) / 2;
}

export function createMeasure(map, plan, toggle) {
  const bar = document.getElementById("measure");
  const says = document.getElementById("measure-says");
  const height = plan.height_m;
  let points = [];
  let closed = false;
  let on = false;
  let drawn = [];

  function refresh() {
    drawn.forEach((layer) => layer.remove());
    drawn = [];
    if (!on) {
      return;
    }
    const colour = COLOURS.screen.measure;
    const line = { color: colour, weight: 3, dashArray: "8 5", interactive: false, renderer };
    drawn.push((closed ? L.polygon(points, { ...line, fillOpacity: 0.12 }) : L.polyline(points, line)).addTo(map));
    for (const point of points) {
      const dot = {
        radius: 5,
        color: colour,
        weight: 2,
        fillColor: "#ffffff",
        fillOpacity: 1,
        interactive: false,
        renderer,
      };
      drawn.push(L.circleMarker(point, dot).addTo(map));
    }
    says.textContent = words();
    bar.querySelector("[data-do=back]").disabled = !points.length;
    bar.querySelector("[data-do=close]").disabled = points.length < 3 || closed;
  }

  function words() {
    if (points.length < 2) {
      return points.length ? "Click the next point." : "Click the first point, or add the point at the centre.";
    }
    const ring = closed ? [...points, points[0]] : points;
    const along = units.amount(length(ring, height), "m", 2, true);
    if (!closed) {
      return `Distance ${along}, level`;
    }
    const square = area(points, height);
    return `Perimeter ${along}; area ${units.amount(square, "m\u00b2", 0, true)} (${units.amount(square / 1e4, "ha", 3)})`;
  }

  function add(latlng) {
    if (closed) {
      points = [];
      closed = false;
    }
    points.push(latlng);
    refresh();
  }

  function set(state) {
    on = state;
    points = [];
    closed = false;
    bar.hidden = !on;
    toggle.setAttribute("aria-pressed", String(on));
    map.getContainer().classList.toggle("measuring", on);
    map.doubleClickZoom[on ? "disable" : "enable"]();
    refresh();
  }

  /* Whether there was something to stop. */
  function stop() {
    const was = on;
    if (was) {
      set(false);
    }
    return was;
  }

  const renderer = L.svg({ padding: 0.5 });
  const actions = {
    middle: () => add(cover.middle(map)),
    back: () => {
      closed = false;
      points.pop();
      refresh();
    },
    close: () => {
      closed = true;
      refresh();
    },
    done: () => set(false),
  };
  for (const [name, act] of Object.entries(actions)) {
    bar.append(make("button", { type: "button", "data-do": name, click: act }, LABELS[name]));
  }
  toggle.addEventListener("click", () => set(!on));
  return { isOn: () => on, add, stop, refresh };
}
