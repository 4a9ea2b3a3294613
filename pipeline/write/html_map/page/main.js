"use strict";
/* Puts the parts together. `start` is called once, with the empty map that the page has made. */
PlanMap.start = (() => {
  /* Findings that point to a row, post or section get a mark there; those of a block or file stand in the list only. */
  function findingMarks(plan, find) {
    return plan.findings.flatMap((one, finding) => {
      const thing = find(one.at);
      return thing && thing.kind !== "block" ? [{ finding, point: middle(pointsOf(plan, [], thing)) }] : [];
    });
  }

  function pointsOf(plan, marks, { kind, index }) {
    switch (kind) {
      case "post":
        return [{ x: plan.posts.x[index], y: plan.posts.y[index] }];
      case "row":
        return plan.rows.paths[index];
      case "section":
        return plan.sections.paths[index];
      case "block":
        return plan.blocks[index].rings.flat();
      case "exclusion":
        return plan.exclusions[index].rings.flat();
      default:
        return marks.filter((mark) => mark.finding === index).map((mark) => mark.point);
    }
  }

  /* Half-way between the first and the last point, on the line itself. */
  function middle(points) {
    const [a, b] = [points[0], points[points.length - 1]];
    return PlanMap.hit.nearestOnPath(points, { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2 });
  }

  function bounds(map, points) {
    return L.latLngBounds(points.map((point) => PlanMap.toLatLng(map, point)));
  }

  function placeOf(map, plan, marks, thing) {
    const points = pointsOf(plan, marks, thing);
    if (points.length) {
      return bounds(map, points);
    }
    // A finding about a whole block has no mark: show its block.
    const at = plan.blocks.findIndex((block) => block.id === plan.findings[thing.index].at);
    return bounds(map, pointsOf(plan, marks, { kind: "block", index: Math.max(at, 0) }));
  }

  /* Where a popup points to when a thing was clicked: the post itself, the nearest point of a line, the click elsewhere. */
  function snapped(map, plan, marks, thing, latlng) {
    const points = pointsOf(plan, marks, thing);
    if (thing.kind === "post" || thing.kind === "finding") {
      return PlanMap.toLatLng(map, points[0]);
    }
    if (thing.kind === "row" || thing.kind === "section") {
      const world = PlanMap.toWorld(map, latlng);
      return PlanMap.toLatLng(map, PlanMap.hit.nearestOnPath(points, world));
    }
    return latlng;
  }

  /* Go to a place: near enough to tell posts apart, but no nearer than the place is large. */
  function show(map, place) {
    const near = map.getBoundsZoom(place.pad(0.3));
    map.setView(place.getCenter(), Math.min(near, Math.max(map.getZoom(), 20)), { animate: false });
  }

  /* A popup never wider or higher than the map: on a phone it fills it. */
  function fitPopup(map, open) {
    const size = map.getSize();
    open.options.maxWidth = Math.min(360, size.x - 60);
    open.options.minWidth = Math.min(250, open.options.maxWidth);
    open.options.maxHeight = Math.max(140, size.y - 70);
  }

  function addShades(map, plan) {
    map.createPane("ground").classList.add("ground");
    const images = plan.backdrop.shades.map((shade) => L.imageOverlay(shade.picture, shade.edges, { pane: "ground" }).addTo(map));
    return (on) => images.forEach((image) => (on ? image.addTo(map) : image.remove()));
  }

  function addControls(map, whole) {
    L.control.scale({ imperial: false, maxWidth: 160 }).addTo(map);
    const { make } = PlanMap.elements;
    const bar = L.control({ position: "topleft" });
    bar.onAdd = () => {
      const all = make("button", { type: "button", title: "Show the whole plan", "aria-label": "Show the whole plan" }, "\u2922");
      all.addEventListener("click", () => map.fitBounds(whole, { padding: [28, 28] }));
      const box = make("div", { class: "leaflet-bar whole" }, all);
      L.DomEvent.disableClickPropagation(box);
      return box;
    };
    bar.addTo(map);
    const north = L.control({ position: "topright" });
    north.onAdd = () => make("div", { class: "north", role: "img", "aria-label": "North is up" }, "\u25b2", make("b", {}, "N"));
    north.addTo(map);
    // What the map shows must stand on the map: the panel may be shut, and paper has no switch.
    const sign = make("p", { class: "view-name" });
    const corner = L.control({ position: "bottomright" });
    corner.onAdd = () => sign;
    corner.addTo(map);
    return sign;
  }

  function keysAndPanel(map, closers) {
    const toggle = PlanMap.panel.byId("panel-toggle");
    const set = (open) => {
      document.body.classList.toggle("panel-open", open);
      toggle.setAttribute("aria-expanded", String(open));
    };
    toggle.addEventListener("click", () => set(!document.body.classList.contains("panel-open")));
    document.addEventListener("keydown", (event) => {
      if (event.key === "Escape") {
        closers.forEach((close) => close());
        set(false);
      }
    });
    new ResizeObserver(() => map.invalidateSize({ animate: false })).observe(map.getContainer());
  }

  /* Paper: the map gets the page's width, is drawn anew in black and white, and goes back to what it was afterwards. */
  function printing(map, layer, whole) {
    let view = null;
    const turn = (paper) => {
      document.body.classList.toggle("printing", paper);
      layer.forPaper(paper);
      PlanMap.legend.paint(layer.palette());
      map.invalidateSize({ animate: false, pan: false });
    };
    window.addEventListener("beforeprint", () => {
      view = { centre: map.getCenter(), zoom: map.getZoom() };
      const shown = map.getBounds();
      turn(true);
      // The sheet has another shape than the screen: what was seen must be on it, and fill it if it was everything.
      const part = shown.contains(whole) ? whole : shown;
      map.fitBounds(part, { animate: false, padding: part === whole ? [28, 28] : [0, 0] });
      layer.redraw();
    });
    window.addEventListener("afterprint", () => {
      turn(false);
      map.setView(view.centre, view.zoom, { animate: false });
      layer.redraw();
    });
  }

  function start(map) {
    const { hit, panel, legend, states, popup, layer: drawing } = PlanMap;
    const plan = PlanMap.decode(JSON.parse(panel.byId("plan-data").textContent));
    const ids = allIds(plan);
    const find = (id) => ids.get(id) || null;
    const marks = findingMarks(plan, find);
    const shades = addShades(map, plan);
    const layer = new drawing.PlanLayer(plan, marks).addTo(map);
    const whole = bounds(map, plan.blocks.flatMap((block) => block.rings.flat()));
    const open = L.popup({ autoPanPadding: [8, 8] });
    const sign = addControls(map, whole);
    let view = plan.views[0];
    let selected = null;
    let before = null;

    /* Show a thing: mark it, open its popup; `near` is where it was clicked, else the map goes to it. */
    function go(kind, index, near = null) {
      const thing = { kind, index };
      if (!near) {
        before = before || document.activeElement;
        document.body.classList.remove("panel-open");
        map.invalidateSize({ animate: false });
        show(map, placeOf(map, plan, marks, thing));
      }
      selected = thing;
      layer.select(thing);
      const at = near || placeOf(map, plan, marks, thing).getCenter();
      fitPopup(map, open);
      open.setLatLng(at).setContent(card(thing)).openOn(map);
      if (!near) {
        open.getElement().querySelector("h2").focus({ preventScroll: true });
      }
    }

    function card(thing) {
      return popup.content(plan, thing, go, { view, find });
    }

    /* Show another state: marks, legend, the sign on the map, and the open popup if there is one. */
    function change(name) {
      view = name;
      layer.setState(name);
      legend.fill(plan, marks, name, layer, toggle);
      sign.textContent = states.words(name, plan).name;
      if (selected) {
        open.setContent(card(selected));
      }
    }

    function toggle(name, on) {
      layer.show(name, on);
      if (name === "shades") {
        shades(on);
      }
    }

    function shut() {
      map.closePopup(open);
    }

    map.on("popupopen", () => map.getContainer().classList.add("has-popup"));
    map.on("popupclose", () => {
      map.getContainer().classList.remove("has-popup");
      selected = null;
      layer.select(null);
      if (before) {
        before.focus({ preventScroll: true });
        before = null;
      }
    });
    map.on("click", (event) => {
      const thing = hit.thingAt(map, layer, plan, marks, event.latlng);
      if (thing) {
        before = null;
        go(thing.kind, thing.index, snapped(map, plan, marks, thing, event.latlng));
      }
    });
    map.on("mousemove", (event) => {
      const thing = hit.thingAt(map, layer, plan, marks, event.latlng);
      map.getContainer().classList.toggle("over-thing", Boolean(thing && thing.kind !== "block"));
    });

    panel.fill(plan);
    states.fillSwitch(plan, change);
    change(view);
    panel.findings(plan, go, find);
    const hideFound = panel.search(searchable(plan), go);
    keysAndPanel(map, [shut, hideFound]);
    printing(map, layer, whole);
    map.fitBounds(whole, { padding: [28, 28], animate: false });
    // "map.html#B01-R012-P007" opens there: a sheet for the field can carry such a link.
    const linked = find(window.location.hash.slice(1));
    if (linked) {
      go(linked.kind, linked.index);
    }

    function allIds(data) {
      const all = new Map();
      const add = (kind, list) => list.forEach((id, index) => all.set(id, { kind, index }));
      add("post", data.posts.id);
      add("section", data.sections.id);
      add("row", data.rows.id);
      add("block", data.blocks.map((block) => block.id));
      return all;
    }

    function searchable(data) {
      const list = (kind, some) => some.map((id, index) => ({ kind, index, id }));
      return [
        ...list("block", data.blocks.map((block) => block.id)),
        ...list("row", data.rows.id),
        ...list("section", data.sections.id),
        ...list("post", data.posts.id),
      ];
    }
  }

  return start;
})();
