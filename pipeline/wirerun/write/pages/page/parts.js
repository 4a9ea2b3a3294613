/* Parts of a page made from data. Texts go in as text, never as markup: names come from other people's files. */
import { DASH, grouped } from "../../html_map/page/units.js";
import { unpack } from "../../html_map/page/unpack.js";

/* An element with attributes and children; a child that is a text becomes text. */
export function make(tag, attributes = {}, ...children) {
  return filled(document.createElement(tag), attributes, children);
}

/* The same in a drawing. */
export function draw(tag, attributes = {}, ...children) {
  return filled(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") {
      element.addEventListener(name, value);
    } else {
      element.setAttribute(name, value);
    }
  }
  element.append(...children);
  return element;
}

/* A table: heads, and lines of [head, ...cells]. */
export function table(name, heads, lines) {
  const head = make("tr", {}, ...heads.map((one) => make("th", { scope: "col" }, one)));
  const body = lines.map(([first, ...rest]) =>
    make("tr", {}, make("th", { scope: "row" }, first), ...rest.map((one) => make("td", {}, one))),
  );
  return make(
    "div",
    { class: "wide" },
    make("table", { class: name }, make("thead", {}, head), make("tbody", {}, ...body)),
  );
}

/* A number as a person reads it, thousands apart, rounded as everywhere; a dash where there is none. */
export function number(value, decimals = 0) {
  return value === null || value === undefined ? DASH : grouped(value, decimals).replace("-", "\u2212");
}

/* The data of the page, out of an element; a promise. */
export function carried(id) {
  return unpack(document.getElementById(id).textContent);
}
