/* Parts of the page made from data. Texts go in as text, never as markup: names come from other people's files. */
import { valueAt } from "./decode.js";
import { say } from "./terms.js";
import * as units from "./units.js";

/* An element with attributes and children; a child that is a text becomes text. */
export function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name === "click") {
      element.addEventListener("click", value);
    } else {
      element.setAttribute(name, value);
    }
  }
  element.append(...children);
  return element;
}

export function button(label, click, name = "link") {
  return make("button", { type: "button", class: name, click }, label);
}

/* Label and value, one line each. */
export function facts(lines) {
  const list = make("dl", { class: "facts" });
  for (const [label, value, meaning] of lines) {
    list.append(make("dt", meaning ? { title: meaning } : {}, label), make("dd", {}, value));
  }
  return list;
}

export function columnFacts(lines, at) {
  return lines.map((line) => [
    say(line.label),
    units.amount(valueAt(line, at), line.unit, line.decimals),
    say(line.meaning),
  ]);
}

/*
 * A table that scrolls by itself where it is wider than its card. `groups` are [title, lines] each, a title of "" for
 * none; a line is [head, ...cells]; a cell is a text, an element or a list of both.
 */
export function table(name, heads, groups) {
  const head = make("tr", {}, ...heads.map((one) => make("th", { scope: "col" }, one)));
  const bodies = groups.map(([title, lines]) => {
    const body = make("tbody");
    if (title) {
      const across = { scope: "rowgroup", colspan: heads.length, class: "group" };
      body.append(make("tr", {}, make("th", across, title)));
    }
    body.append(...lines.map(line));
    return body;
  });
  return make("div", { class: "wide" }, make("table", { class: name }, make("thead", {}, head), ...bodies));
}

function line([first, ...rest]) {
  return make("tr", {}, make("th", { scope: "row" }, ...[first].flat()), ...rest.map(cell));
}

function cell(one) {
  return one instanceof HTMLTableCellElement ? one : make("td", {}, ...[one].flat());
}

/* Make a long list one stop of the Tab key: the arrow keys go along it, past what is folded. */
export function oneStop(box, found) {
  const all = () => [...box.querySelectorAll(found)];
  all().forEach((one, index) => {
    one.tabIndex = index ? -1 : 0;
  });
  box.onkeydown = (event) => {
    const seen = all().filter((one) => one.checkVisibility());
    const at = seen.indexOf(document.activeElement);
    const to = {
      ArrowDown: at + 1,
      ArrowRight: at + 1,
      ArrowUp: at - 1,
      ArrowLeft: at - 1,
      Home: 0,
      End: seen.length - 1,
    };
    const next = at < 0 ? null : seen[to[event.key]];
    if (next) {
      event.preventDefault();
      seen[at].tabIndex = -1;
      next.tabIndex = 0;
      next.focus();
    }
  };
}
