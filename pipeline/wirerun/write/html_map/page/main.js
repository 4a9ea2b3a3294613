/*
 * Puts the parts together. `planLayer` is called once, by the script that the map library's wrapper writes; the plan is
 * unpacked when the layer is put on a map.
 */
import { createAddress } from "./address.js";
import * as backdrops from "./backdrops.js";
import * as controls from "./controls.js";
import * as cover from "./cover.js";
import { decode } from "./decode.js";
import * as hit from "./hit.js";
import { PlanLayer } from "./layer.js";
import * as legend from "./legend.js";
import { createMeasure } from "./measure.js";
import * as panel from "./panel.js";
import * as places from "./places.js";
import * as position from "./position.js";
import * as printing from "./printing.js";
import { createSheet } from "./sheet.js";
import * as states from "./states.js";
import * as terms from "./terms.js";
import * as totals from "./totals.js";
import * as units from "./units.js";
import { unpack } from "./unpack.js";
import { createWalk } from "./walk.js";
import { toWorld } from "./world.js";

// The first releases with DecompressionStream, by the compatibility data of MDN Web Docs.
const TOO_OLD =
  "This browser cannot unpack the plan inside this file: Chrome and Edge from version 80, Firefox from 113 and Safari from 16.4 can.";
const DAMAGED = "The plan inside this file cannot be read: the file is damaged or was cut short.";

/* The plan as a layer of the map. `whole` are the edges of all blocks. */
export function planLayer(whole) {
  const layer = new PlanLayer(whole);
  layer.once("add", () => {
    const map = layer._map;
    // At once, so that whoever moves the map after adding the layer has the last word.
    map.fitBounds(layer.whole, { padding: [28, 28], animate: false });
    show(map, layer);
  });
  return layer;
}

async function show(map, layer) {
  if (typeof DecompressionStream === "undefined") {
    say(TOO_OLD);
    return;
  }
  let data;
  try {
    data = await unpack(panel.byId("plan-data").textContent);
  } catch {
    say(DAMAGED);
    return;
  }
  start(map, layer, decode(data));
  document.body.dataset.plan = "shown";
}

function say(words) {
  panel.byId("page-says").textContent = words;
  panel.byId("page-says").hidden = false;
  document.body.dataset.plan = "refused";
}

function keysAndPanel(closers) {
  const toggle = panel.byId("panel-toggle");
  const set = (open) => {
    document.body.classList.toggle("panel-open", open);
    toggle.setAttribute("aria-expanded", String(open));
  };
  toggle.addEventListener("click", () => set(!document.body.classList.contains("panel-open")));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") {
      // One thing at a time, the last opened first.
      closers.find((close) => close());
      set(false);
    }
  });
  for (const link of document.querySelectorAll("[data-skip]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      set(link.dataset.skip === "panel");
      const place = panel.byId(link.dataset.skip);
      (place.querySelector(".folium-map") || place).focus();
    });
  }
  return () => set(false);
}

function start(map, layer, plan) {
  units.set(plan.units);
  terms.set(plan.terms);
  document.querySelector(`[name=units][value=${plan.units}]`).checked = true;
  const find = places.finder(plan);
  const marks = places.findingMarks(plan, find);
  const { whole } = layer;
  const tools = controls.create(map, whole);
  const measure = createMeasure(map, plan, tools.measure);
  const sheet = createSheet(plan, { palette: () => layer.palette(), go, find, shut });
  const address = createAddress(find, { go, shut });
  const walk = createWalk(map, plan, layer, { go, closed: () => cover.mark(map) });
  let view = plan.views[0];
  let selected = null;
  let before = null;
  // Where the map stood before it was moved out from under the sheet, and where it was put.
  let stood = null;

  /*
   * Show a thing: mark it, open its sheet. `near` is where it was clicked on the map; else the map goes to it, and
   * the focus to the sheet. From the profile the focus stays there, and the map moves only as far as it must.
   */
  function go(kind, index, { near = null, from = "" } = {}) {
    selected = { kind, index };
    layer.select(selected);
    if (!near && !from) {
      before = before || document.activeElement;
      shutPanel();
    }
    sheet.show(selected, view);
    walk.follow(selected);
    cover.mark(map);
    const place = places.placeOf(map, plan, marks, selected);
    if (from === "walk") {
      stood = null;
      cover.show(map, place);
    } else if (near || from) {
      const was = stood ? stood.was : map.getCenter();
      cover.panInside(map, near || place.getCenter());
      stood = { was, put: map.getCenter(), zoom: map.getZoom() };
    } else {
      stood = null;
      cover.show(map, place);
      panel.byId("sheet-title").focus({ preventScroll: true });
    }
    // Walking from post to post is one step for Back.
    address.set(places.idOf(plan, selected), from !== "");
    count();
  }

  function shut() {
    if (!selected) {
      return false;
    }
    selected = null;
    walk.follow();
    sheet.close();
    layer.select(null);
    cover.mark(map);
    if (stood && map.getZoom() === stood.zoom && map.getCenter().equals(stood.put)) {
      map.setView(stood.was, stood.zoom, { animate: false });
    }
    stood = null;
    if (before) {
      before.focus({ preventScroll: true });
      before = null;
    }
    address.set("", false);
    count();
    return true;
  }

  /* Show another state: marks, legend, the sign on the map, and the sheet if it is open. */
  function change(name) {
    view = name;
    layer.setState(name);
    write();
  }

  /* All words and numbers that hang on the state or the units. */
  function write() {
    legend.fill(plan, marks, view, layer, (name, on) => layer.show(name, on));
    sheet.refresh(view);
    count();
  }

  function count() {
    tools.crowd.hidden = !layer.isCrowded() || view === "dropped" || layer.bands !== "none";
    tools.sign.textContent = states.words(view, plan).name;
    const bounds = cover.seen(map);
    const [a, b] = [toWorld(map, bounds.getNorthWest()), toWorld(map, bounds.getSouthEast())];
    panel.fillView(plan, totals.within(plan, { left: a.x, right: b.x, top: a.y, bottom: b.y }));
  }

  function setUnits(system) {
    units.set(system);
    tools.setScale();
    states.nameSwitch(plan);
    panel.fill(plan);
    panel.fixings(plan);
    panel.findings(plan, go, find);
    write();
    measure.refresh();
    layer.redraw();
  }

  function choose(latlng, from) {
    const thing = hit.thingAt(map, layer, plan, marks, latlng);
    if (thing) {
      before = from;
      go(thing.kind, thing.index, { near: latlng });
    }
    return thing;
  }

  function listen() {
    map.on("click", (event) => {
      if (measure.isOn()) {
        measure.add(event.latlng);
        return;
      }
      choose(event.latlng, null);
    });
    map.on("mousemove", (event) => {
      const thing = measure.isOn() ? null : hit.thingAt(map, layer, plan, marks, event.latlng);
      map.getContainer().classList.toggle("over-thing", Boolean(thing && thing.kind !== "block"));
      tools.hover(thing ? places.idOf(plan, thing) : "", event.containerPoint);
    });
    map.on("mouseout movestart", () => tools.hover("", null));
    map.getContainer().addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target === map.getContainer()) {
        const thing = measure.isOn() ? measure.add(cover.middle(map)) : choose(cover.middle(map), map.getContainer());
        if (thing) {
          panel.byId("sheet-title").focus({ preventScroll: true });
        }
      }
    });
    map.on("moveend resize", count);
    new ResizeObserver(() => {
      map.invalidateSize({ animate: false });
      cover.mark(map);
    }).observe(map.getContainer());
    new ResizeObserver(() => cover.mark(map)).observe(panel.byId("sheet"));
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", write);
    for (const one of document.querySelectorAll("[name=units]")) {
      one.addEventListener("change", () => setUnits(one.value));
    }
    panel.byId("bands").addEventListener("change", (event) => {
      layer.setBands(event.target.value);
      write();
    });
  }

  layer.setPlan(plan, marks);
  panel.fill(plan);
  panel.zones(plan, go);
  panel.fixings(plan);
  panel.findings(plan, go, find);
  panel.describe(plan);
  states.fillSwitch(plan, change);
  backdrops.create(map, plan, write);
  const followed = position.create(map, plan, whole, tools.position, walk.here);
  panel.byId("walk-follow").addEventListener("change", (event) => event.target.checked && followed.start());
  printing.create(map, layer, plan, whole, () => sheet.refresh());
  listen();
  const hideFound = panel.search(plan, () => places.listed(plan), go);
  const shutPanel = keysAndPanel([measure.stop, hideFound, walk.stop, shut]);
  // "map.html#B01-R012-P007" opens there: a sheet for the field can carry such a link.
  address.open();
}
