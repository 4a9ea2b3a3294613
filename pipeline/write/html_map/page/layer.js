"use strict";
/*
 * The plan on one canvas: contours, outlines, exclusions, sections, rows, posts, findings, labels.
 * One canvas for all, drawn class by class: 17 000 posts as separate map objects would make panning crawl.
 */
PlanMap.layer = (() => {
  const { shapes, labels } = PlanMap;
  const EQUATOR_M = 40075016.686;
  const WORLD = 256;

  const PlanLayer = L.Renderer.extend({
    // How far beyond the window is drawn, so that a short pan shows no empty edge.
    options: { padding: 0.25 },

    initialize(plan, marks, options) {
      L.Renderer.prototype.initialize.call(this, options);
      this._plan = plan;
      this._marks = marks;
      this._off = new Set();
      this._paper = shapes.SCREEN;
      this._selected = null;
      this._state = "planned";
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
      this._draw(this._view());
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
        pixelsPerMetre: (scale * WORLD) / (EQUATOR_M * Math.cos(latitude)),
        place: (point) => [point.x * scale - origin.x, point.y * scale - origin.y],
      };
    },

    /* Switch a line of the legend on or off. */
    show(name, on) {
      this._off[on ? "delete" : "add"](name);
      this.redraw();
    },

    /* Show the plan as a whole, or the wires in one state. */
    setState(name) {
      this._state = name;
      this.redraw();
    },

    palette() {
      return shapes.paletteOf(this._paper, this._state);
    },

    /* The class of each post in the present state, a number in POST_CLASSES. */
    postClasses() {
      return this._plan.posts.classes[this._state];
    },

    isOn(name) {
      return !this._off.has(name);
    },

    rowIsOn(index) {
      if (this._state !== "dropped") {
        return this.isOn("rows");
      }
      return this.isOn(`row-${PlanMap.ROW_CLASSES[this._plan.rows.class[index]]}`);
    },

    sectionIsOn() {
      return this._state !== "dropped" && this.isOn("sections");
    },

    select(what) {
      this._selected = what;
      this.redraw();
    },

    /* Black on white at three times the resolution while a page is printed. */
    forPaper(on) {
      this._forPaper = on;
      this._paper = on ? shapes.PRINT : shapes.SCREEN;
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
        ["contours", this._drawContours],
        ["exclusions", this._drawExclusions],
        ["blocks", this._drawBlocks],
        ...(dropped ? [[null, this._drawDroppedRows]] : [["sections", this._drawSections], ["rows", this._drawRows]]),
        [null, this._drawSelectedLine],
        [null, this._drawPosts],
        [dropped ? null : "rows", labels.rows],
        ["blocks", labels.blocks],
        ["findings", this._drawFindings],
        [null, this._drawSelectedPost],
      ];
      for (const [name, step] of steps) {
        if (name === null || this.isOn(name)) {
          step.call(this, ctx, view, this._plan, palette);
        }
      }
    },

    _drawContours(ctx, view, plan, palette) {
      const index = 5 * plan.backdrop.contour_step;
      for (const line of plan.contours) {
        ctx.beginPath();
        trace(ctx, view, line.points);
        ctx.strokeStyle = palette.contour;
        ctx.lineWidth = Number.isInteger(line.height / index) ? 1.6 : 0.8;
        ctx.stroke();
      }
      labels.contours(ctx, view, plan, palette);
    },

    _drawBlocks(ctx, view, plan, palette) {
      ctx.beginPath();
      plan.blocks.forEach((block) => block.rings.forEach((ring) => trace(ctx, view, ring)));
      ctx.lineJoin = "round";
      ctx.strokeStyle = palette.halo;
      ctx.lineWidth = 5;
      ctx.stroke();
      ctx.strokeStyle = palette.block;
      ctx.lineWidth = 2;
      ctx.setLineDash([10, 3, 2, 3]);
      ctx.stroke();
      ctx.setLineDash([]);
    },

    _drawExclusions(ctx, view, plan, palette) {
      for (const exclusion of plan.exclusions) {
        ctx.save();
        ctx.beginPath();
        exclusion.rings.forEach((ring) => trace(ctx, view, ring));
        ctx.strokeStyle = palette.exclusion;
        ctx.lineWidth = 2;
        ctx.stroke();
        ctx.clip("evenodd");
        shapes.hatch(ctx, palette, view);
        ctx.restore();
      }
    },

    _drawSections(ctx, view, plan, palette) {
      ctx.beginPath();
      plan.sections.paths.forEach((points) => trace(ctx, view, points));
      const width = Math.min(14, Math.max(1.6, Math.min(2.8, 1.4 * view.pixelsPerMetre), 0.8 * view.pixelsPerMetre));
      ctx.lineCap = "butt";
      ctx.strokeStyle = palette.section;
      ctx.lineWidth = width;
      ctx.setLineDash([1.6 * width, 0.6 * width]);
      ctx.stroke();
      ctx.setLineDash([]);
    },

    _drawRows(ctx, view, plan, palette) {
      ctx.beginPath();
      plan.rows.paths.forEach((points) => trace(ctx, view, points));
      ctx.strokeStyle = palette.row;
      ctx.lineWidth = Math.min(1.5, Math.max(0.5, 0.45 * view.pixelsPerMetre));
      ctx.stroke();
    },

    /* The more trouble a row makes, the later it is drawn. */
    _drawDroppedRows(ctx, view, plan, palette) {
      // Where rows lie a pixel apart, lines must get thinner or they run together.
      const width = Math.min(4, Math.max(Math.min(1.4, 1.2 * view.pixelsPerMetre), 0.5 * view.pixelsPerMetre));
      PlanMap.ROW_CLASSES.forEach((name, code) => {
        ctx.beginPath();
        plan.rows.paths.forEach((points, i) => {
          if (plan.rows.class[i] === code && this.rowIsOn(i)) {
            trace(ctx, view, points);
          }
        });
        shapes.strokeRows(ctx, palette, name, width);
      });
    },

    _drawPosts(ctx, view, plan, palette) {
      const { x, y } = plan.posts;
      const classes = this.postClasses();
      const byClass = PlanMap.POST_CLASSES.map(() => []);
      const margin = 12;
      for (let i = 0; i < x.length; i += 1) {
        const [px, py] = view.place({ x: x[i], y: y[i] });
        if (px > -margin && py > -margin && px < view.width + margin && py < view.height + margin) {
          byClass[classes[i]].push([px, py]);
        }
      }
      // What matters most is drawn last, on top of the rest.
      for (const name of ["plain", "end", "unknown", "look", "two-way"]) {
        if (this.isOn(name) && name in palette.posts) {
          const half = shapes.size(name, view.pixelsPerMetre) * (palette.posts === palette.quiet ? 0.75 : 1);
          shapes.drawPosts(ctx, palette, name, byClass[PlanMap.POST_CLASSES.indexOf(name)], half);
        }
      }
    },

    _drawFindings(ctx, view, plan, palette) {
      for (const mark of this._marks) {
        const [x, y] = view.place(mark.point);
        shapes.drawFinding(ctx, palette, plan.findings[mark.finding].level, x, y - 18, 9);
        ctx.beginPath();
        ctx.moveTo(x, y - 9);
        ctx.lineTo(x, y - 2);
        ctx.stroke();
      }
    },

    _drawSelectedLine(ctx, view, plan, palette) {
      const chosen = this._selected;
      if (!chosen || (chosen.kind !== "row" && chosen.kind !== "section")) {
        return;
      }
      ctx.beginPath();
      trace(ctx, view, plan[`${chosen.kind}s`].paths[chosen.index]);
      ctx.lineCap = "round";
      ctx.strokeStyle = palette.halo;
      ctx.lineWidth = 8;
      ctx.stroke();
      ctx.strokeStyle = palette.selected;
      ctx.lineWidth = 3.5;
      ctx.stroke();
    },

    _drawSelectedPost(ctx, view, plan, palette) {
      if (!this._selected || this._selected.kind !== "post") {
        return;
      }
      const { x, y } = plan.posts;
      const [px, py] = view.place({ x: x[this._selected.index], y: y[this._selected.index] });
      for (const [colour, width] of [
        [palette.halo, 6],
        [palette.selected, 2.5],
      ]) {
        ctx.beginPath();
        ctx.arc(px, py, 13, 0, 2 * Math.PI);
        ctx.strokeStyle = colour;
        ctx.lineWidth = width;
        ctx.stroke();
      }
    },
  });

  function trace(ctx, view, points) {
    points.forEach((point, i) => {
      const [x, y] = view.place(point);
      if (i) {
        ctx.lineTo(x, y);
      } else {
        ctx.moveTo(x, y);
      }
    });
  }

  return { PlanLayer };
})();
