/*
 * The plan on one canvas, and what of it is switched on.
 * One canvas for all, drawn class by class: 17 000 posts as separate map objects would make panning crawl.
 */
import * as cells from "./cells.js";
import { ROW_CLASSES } from "./classes.js";
import * as drawing from "./drawing.js";
import { rowGap } from "./hit.js";
import * as labels from "./labels.js";
import * as shapes from "./shapes.js";
import { WORLD } from "./world.js";

// Pixels from row to row below which posts are told by cells, not one by one (choice).
const CROWDED = 2.3;
const EQUATOR_M = 40075016.686;

export const PlanLayer = L.Renderer.extend({
  // How far beyond the window is drawn, so that a short pan shows no empty edge.
  options: { padding: 0.25 },

  /* `whole` are the edges of all blocks: [[south, west], [north, east]]. */
  initialize(whole, options) {
    L.Renderer.prototype.initialize.call(this, options);
    this.whole = L.latLngBounds(whole);
    this._plan = null;
    this.marks = [];
    this._hidden = new Set();
    this._night = window.matchMedia("(prefers-color-scheme: dark)");
    this._night.addEventListener("change", () => this.redraw());
    this.rowGap = Infinity;
    this.ticked = [];
    this.selected = null;
    this._state = "planned";
    this.bands = "none";
  },

  /* The plan comes when it is unpacked; until then nothing is drawn. */
  setPlan(plan, marks) {
    this._plan = plan;
    this.marks = marks;
    this.rowGap = rowGap(plan.rows.paths);
    this.redraw();
  },

  _initContainer() {
    this._container = L.DomUtil.create("canvas", "plan-canvas");
    this._container.setAttribute("aria-hidden", "true");
    this._ctx = this._container.getContext("2d");
  },

  _destroyContainer() {
    this._container.remove();
    delete this._container;
    delete this._ctx;
  },

  _update() {
    if (this._map._animatingZoom && this._bounds) {
      return;
    }
    L.Renderer.prototype._update.call(this);
    const size = this._bounds.getSize();
    // Sharp on fine screens, but never so large that a phone runs out of memory.
    const ratio = this._forPaper ? 3 : Math.min(window.devicePixelRatio || 1, 2);
    L.DomUtil.setPosition(this._container, this._bounds.min);
    this._container.width = ratio * size.x;
    this._container.height = ratio * size.y;
    this._container.style.width = `${size.x}px`;
    this._container.style.height = `${size.y}px`;
    this._ctx.setTransform(ratio, 0, 0, ratio, 0, 0);
    if (this._plan) {
      this._draw(this._view());
    }
  },

  /* Everything the drawing needs to know about the present view. */
  _view() {
    const size = this._bounds.getSize();
    const scale = this._map.options.crs.scale(this._map.getZoom()) / WORLD;
    const origin = this._map.getPixelOrigin().add(this._bounds.min);
    const latitude = (this._map.getCenter().lat * Math.PI) / 180;
    return {
      width: size.x,
      height: size.y,
      origin,
      rowGap: this.rowGap * scale,
      crowded: this.rowGap * scale < CROWDED,
      taken: [],
      pixelsPerMetre: (scale * WORLD) / (EQUATOR_M * Math.cos(latitude)),
      place: (point) => [point.x * scale - origin.x, point.y * scale - origin.y],
    };
  },

  /* From a point of the map's own pixels to one of the canvas. */
  toCanvas(point) {
    return point.subtract(this._bounds.min);
  },

  /* Switch a line of the legend on or off. */
  show(name, on) {
    this._hidden[on ? "delete" : "add"](name);
    this.redraw();
  },

  /* Show the plan as a whole, or the wires in one state. */
  setState(name) {
    this._state = name;
    this.redraw();
  },

  /* Paint slope classes on the rows: "along", "across" or "none". */
  setBands(name) {
    this.bands = name;
    this.redraw();
  },

  /* Posts that were ticked on a walk: a list of positions. */
  setTicked(posts) {
    this.ticked = posts;
    this.redraw();
  },

  palette() {
    const day = this._night.matches ? shapes.DARK : shapes.SCREEN;
    const quiet = this._state === "dropped" || this.bands !== "none";
    return shapes.paletteOf(this._forPaper ? shapes.PRINT : day, quiet);
  },

  /* The class of each post in the present state, a number in POST_CLASSES. */
  postClasses() {
    return this._plan.posts.classes[this._state];
  },

  isOn(name) {
    return !this._hidden.has(name);
  },

  rowIsOn(index) {
    if (this._state !== "dropped") {
      return this.isOn("rows");
    }
    return this.isOn(`row-${ROW_CLASSES[this._plan.rows.class[index]]}`);
  },

  sectionIsOn() {
    return this._state !== "dropped" && this.bands === "none" && this.isOn("sections");
  },

  select(what) {
    this.selected = what;
    this.redraw();
  },

  /* Black on white at three times the resolution while a page is printed. */
  forPaper(on) {
    this._forPaper = on;
  },

  redraw() {
    if (this._ctx) {
      this._update();
    }
  },

  _draw(view) {
    const ctx = this._ctx;
    const dropped = this._state === "dropped";
    const palette = this.palette();
    ctx.clearRect(0, 0, view.width, view.height);
    const steps = [
      [null, drawing.bands],
      ["contours", drawing.contours],
      ["exclusions", drawing.exclusions],
      ["zones", drawing.zones],
      ["blocks", drawing.blocks],
      ...(dropped
        ? [[null, drawing.droppedRows]]
        : [...(this.sectionIsOn() ? [[null, drawing.sections]] : []), ["rows", drawing.rows]]),
      ["left-out", drawing.leftOut],
      [null, drawing.selectedLine],
      [null, drawing.adjusters],
      [null, view.crowded ? cells.posts : drawing.posts],
      // Words last, the most wanted first: what comes later has the room that is left.
      ["blocks", labels.blocks],
      [dropped ? null : "rows", labels.rows],
      ["zones", labels.zones],
      ["contours", labels.contours],
      ["findings", drawing.findings],
      [null, drawing.ticked],
      [null, drawing.selectedPost],
      [null, labels.openZone],
    ];
    for (const [name, step] of steps) {
      if (name === null || this.isOn(name)) {
        step(ctx, view, this._plan, palette, this);
      }
    }
  },

  isCrowded() {
    return this._bounds ? this._view().crowded : false;
  },
});
