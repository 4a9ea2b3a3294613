/* Parts of a page made from data. Texts go in as text, never as markup: names come from other people's files. */

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

/* A number as a person reads it, thousands apart; a dash where there is none. */
export function number(value, decimals = 0) {
  if (value === null || value === undefined) {
    return "–";
  }
  const [whole, rest] = Math.abs(value).toFixed(decimals).split(".");
  const apart = whole.replace(/\B(?=(\d{3})+$)/g, "\u202f");
  const zero = Number(`${whole}.${rest ?? 0}`) === 0;
  return `${value < 0 && !zero ? "\u2212" : ""}${apart}${rest ? `.${rest}` : ""}`;
}

/* The data of the page, out of its gzipped JSON in base64; a promise. */
export function unpack(id) {
  const text = document.getElementById(id).textContent;
  const bytes = Uint8Array.from(atob(text), (sign) => sign.charCodeAt(0));
  return new Response(new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"))).json();
}
