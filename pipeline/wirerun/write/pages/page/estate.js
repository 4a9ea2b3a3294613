/* Draws the blocks of an estate: shades from afar, rows from near, names where there is room; their numbers beside. */
import { carried, draw, make, number, table } from "./parts.js";

/* Shades by the share of posts with two-way clips, from pale to dark, so that they part in grey, too. */
const SHADES = [
  { below: 5, colour: "#e4eef6" },
  { below: 15, colour: "#a9cbe2" },
  { below: 30, colour: "#5b9cc8" },
  { below: Number.POSITIVE_INFINITY, colour: "#1f5f95" },
];
const MISSING = { color: "#b03a00", weight: 2, dashArray: "6 4", fillColor: "#ffffff", fillOpacity: 0.6 };
const EDGE = { color: "#1c2329", weight: 1, fillOpacity: 0.85 };
const ROW = { color: "#1c2329", weight: 1, interactive: false };
// Metres a pixel from which rows are told apart, and the width of a letter.
const NEAR_M = 0.8;
const LETTER_PX = 9;

export function start() {
  carried("page-data").then(show);
}

function show(data) {
  const there = data.blocks.filter((block) => block.there);
  document.getElementById("name").textContent = data.name;
  document.getElementById("sum").textContent = summed(data.blocks, there);
  const map = L.map("map", { preferCanvas: true, zoomSnap: 0.25, maxZoom: 22, attributionControl: false });
  L.control.scale({ imperial: false }).addTo(map);
  const shapes = data.blocks
    .filter((block) => block.rings.length)
    .map((block) => {
      const shape = L.polygon(block.rings, block.there ? { ...EDGE, fillColor: shade(block) } : MISSING);
      shape.bindTooltip(make("span", {}, block.block_id), { permanent: true, direction: "center", className: "name" });
      shape.on("click", () => card(block));
      shape.addTo(map);
      return { block, shape, rows: null };
    });
  if (shapes.length) {
    map.fitBounds(L.featureGroup(shapes.map((one) => one.shape)).getBounds(), { padding: [20, 20] });
  }
  map.on("zoomend moveend", () => redraw(map, shapes));
  redraw(map, shapes);
  legend(data.blocks);
  listed(data.blocks, (block) => {
    const one = shapes.find((other) => other.block === block);
    if (one) {
      map.fitBounds(one.shape.getBounds(), { padding: [20, 20] });
    }
    card(block);
  });
  document.body.dataset.page = "shown";
}

function summed(blocks, there) {
  const sum = (name) => there.reduce((all, block) => all + (block[name] ?? 0), 0);
  const lack = blocks.length - there.length;
  const parts = [
    `${counted(there.length, "block")}, ${number(sum("area_ha"), 1)} ha`,
    `${number(sum("rows"))} rows, ${number(sum("row_length_m"))} m`,
    `${number(sum("posts"))} posts, ${number(sum("two_way_posts"))} with two-way clips`,
    `${number(sum("coils"))} coils`,
    `${number(sum("hours"))} hours`,
  ];
  return `${parts.join("; ")}${lack ? `. ${counted(lack, "more block")} NOT in these numbers.` : "."}`;
}

function counted(count, thing) {
  return `${number(count)} ${thing}${count === 1 ? "" : "s"}`;
}

function share(block) {
  return block.posts ? (100 * block.two_way_posts) / block.posts : 0;
}

function shade(block) {
  return SHADES.find((one) => share(block) < one.below).colour;
}

/* Rows of the blocks in view where they can be told apart, else shades; names where they have room. */
function redraw(map, shapes) {
  const middle = map.getCenter();
  const metres = (40075016.7 * Math.cos((middle.lat * Math.PI) / 180)) / (256 * 2 ** map.getZoom());
  const near = metres <= NEAR_M;
  const view = map.getBounds();
  for (const one of shapes) {
    const bounds = one.shape.getBounds();
    const draws = near && view.intersects(bounds);
    if (draws && !one.rows) {
      one.rows = L.polyline(one.block.lines, ROW).addTo(map);
    } else if (!draws && one.rows) {
      one.rows.remove();
      one.rows = null;
    }
    if (one.block.there) {
      one.shape.setStyle({ fillOpacity: draws ? 0.25 : EDGE.fillOpacity });
    }
    const west = map.latLngToContainerPoint(bounds.getSouthWest());
    const east = map.latLngToContainerPoint(bounds.getNorthEast());
    const room = east.x - west.x > LETTER_PX * one.block.block_id.length && west.y - east.y > 16;
    one.shape[room ? "openTooltip" : "closeTooltip"]();
  }
  document.body.dataset.near = shapes.filter((one) => one.rows).length;
}

function legend(blocks) {
  const list = document.getElementById("legend");
  SHADES.forEach((one, at) => {
    const from = at ? SHADES[at - 1].below : 0;
    const words = Number.isFinite(one.below) ? `${from} to ${one.below} %` : `${from} % and more`;
    list.append(make("li", {}, sample({ fill: one.colour, stroke: EDGE.color }), words));
  });
  if (blocks.some((block) => !block.there)) {
    const paint = { fill: "#ffffff", stroke: MISSING.color, "stroke-dasharray": "4 2" };
    list.append(make("li", {}, sample(paint), "missing"));
  }
}

function sample(paint) {
  const box = draw("rect", { x: 1, y: 1, width: 20, height: 14, ...paint });
  return draw("svg", { width: 22, height: 16, "aria-hidden": "true" }, box);
}

/* What is known of one block, and the way to its own map. */
function card(block) {
  const box = document.getElementById("card");
  const lines = block.there
    ? [
        `${number(block.area_ha, 2)} ha, ${number(block.rows)} rows, ${number(block.row_length_m)} m`,
        `${number(block.posts)} posts, ${number(block.two_way_posts)} (${number(share(block))} %) with two-way clips`,
        `${number(block.coils)} coils, ${number(block.hours)} hours; ${number(block.warnings)} warnings`,
        ...(block.year ? [`Built from year ${block.year}`] : []),
      ]
    : [`Missing: ${block.reason}`];
  box.replaceChildren(
    make("button", { type: "button", click: () => (box.hidden = true) }, "Close"),
    make("p", {}, make("strong", {}, block.block_id)),
    ...lines.map((text) => make("p", {}, text)),
    ...(block.map ? [make("p", {}, make("a", { href: `../${block.map}` }, "Open the map of this block"))] : []),
  );
  box.hidden = false;
}

function listed(blocks, choose) {
  const heads = ["Block", "ha", "Rows", "Posts", "Two-way", "Coils", "Hours", "Cost", "Warnings"];
  const lines = blocks.map((block) => [
    make("button", { type: "button", click: () => choose(block) }, block.block_id),
    number(block.area_ha, 2),
    ...["rows", "posts", "two_way_posts", "coils", "hours", "cost", "warnings"].map((name) =>
      block.there ? number(block[name]) : "–",
    ),
  ]);
  document.getElementById("blocks").append(make("h2", {}, "Blocks"), table("list", heads, lines));
}
