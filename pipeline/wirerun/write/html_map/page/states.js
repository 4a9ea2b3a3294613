/* What the map can show: the plan as a whole, or the wires in one state. Words only; the numbers come with the plan. */
import { contourStep, contoursOf } from "./contours.js";
import { make } from "./elements.js";
import { say } from "./terms.js";
import { degrees, sign } from "./units.js";

const ANY = { end: "End post", unknown: "Post without loads" };
const SEASON = {
  "two-way": "Pulls up: asks for a two\u2011way clip",
  look: "Pulls up a little: a one\u2011way clip holds",
  plain: "Presses down",
  ...ANY,
};
const STAPLED = "Stapled wires are held both ways and do not count.";

/* Of each view: its name, a column head, the words for classes of posts and for sections, and what it goes by. */
export function words(view, plan) {
  const { stringing, cold, cold_up: coldUp, hot } = plan.celsius;
  return {
    planned: {
      name: "All states (as planned)",
      posts: {
        "two-way": "Two-way post",
        look: "Check on site: two-way clip possible",
        plain: say("Intermediate post"),
        ...ANY,
      },
      sections: "Undulating section",
      note: "Posts, rows and clips as planned: the least load of all states decides.",
    },
    strung: {
      name: `Strung, ${degrees(stringing)}`,
      head: "Strung",
      posts: SEASON,
      sections: "Undulating section as planned",
      note: `Loads when the wires are strung, at ${degrees(stringing)}. ${STAPLED}`,
    },
    cold: {
      name: `Cold, ${degrees(coldUp)}`,
      head: "Cold",
      posts: SEASON,
      sections: "Undulating section as planned",
      note: say(
        `Loads on the coldest day with the foliage wires up, at ${degrees(coldUp)}; fixed wires at ${degrees(cold)}. ${STAPLED}`,
      ),
    },
    hot: {
      name: `Hot, ${degrees(hot)}`,
      head: "Hot",
      posts: SEASON,
      sections: "Undulating section as planned",
      note: `Loads on the hottest day, at ${degrees(hot)}: the wires are at their slackest. ${STAPLED}`,
    },
    lifted: {
      name: "Lifted",
      head: "Lifted",
      posts: SEASON,
      sections: "Undulating section as planned",
      note: `Loads in the lift position that pulls up most, ends where they are tied. ${STAPLED}`,
    },
    dropped: {
      name: "Dropped",
      posts: { plain: say("Intermediate post"), end: "End post" },
      note: say("Foliage wires freed from all clips between the end posts: do they come down as far as they should?"),
    },
  }[view];
}

const ROWS = {
  drops: "Row whose wires drop on their own",
  adjuster: "Row needs an adjuster",
  beyond: "Row needs one; none in the list is long enough",
  uncomputed: "Row not computed: a height is missing",
  fixed: "Row without foliage wire",
};

/* What a row of a class is, its wires let down. */
export function row(name) {
  return say(ROWS[name]);
}

/* The legend's lines: name in the drawing, words, count; a count of null means that there is nothing to count. */
export function layers(view, plan, marks) {
  const { totals } = plan;
  const step = contourStep(plan);
  return [
    ...(view === "dropped" ? droppedLayers(plan) : plannedLayers(view, plan)),
    ["left-out", "Row not planned, in no total: ground not known", plan.left_out.length],
    ["blocks", "Block outline", totals.blocks],
    ["exclusions", "Exclusion", totals.exclusions],
    ["zones", "Work zone", totals.zones],
    // A mark for each end of a row, however many lines have an adjuster there.
    ["adjusters", "Adjusters at the row's end", totals.adjusters],
    ["beyond", "Lines that no adjuster reaches", totals.lines_beyond],
    ["findings", "Finding", marks.length],
    ["contours", `Contour, every ${step}\u00a0${sign("m")}`, contoursOf(plan).length ? null : 0],
  ].filter(([, , count]) => count !== 0);
}

function plannedLayers(view, plan) {
  const { posts, sections } = words(view, plan);
  const { totals } = plan;
  return [
    ...["two-way", "look", "plain", "end", "unknown"].map((name) => [name, posts[name], totals.classes[view][name]]),
    ["sections", sections, totals.sections],
    ["rows", "Row", totals.rows],
  ];
}

function droppedLayers(plan) {
  const { posts } = words("dropped", plan);
  const { totals } = plan;
  const { end } = totals.classes.planned;
  return [
    ...Object.keys(ROWS).map((name) => [`row-${name}`, row(name), totals.row_classes[name]]),
    ["plain", posts.plain, totals.posts - end],
    ["end", posts.end, end],
  ];
}

/* The switch: real radio buttons, so that Tab and the arrow keys work as everywhere. */
export function fillSwitch(plan, change) {
  const box = document.getElementById("views");
  for (const view of plan.views) {
    const button = make("input", { type: "radio", name: "view", value: view, id: `view-${view}` });
    button.checked = view === "planned";
    button.addEventListener("change", () => change(view));
    box.append(make("label", { for: button.id }, button, make("span", {}, words(view, plan).name)));
  }
}

/* Its names anew, in the units of the day. */
export function nameSwitch(plan) {
  for (const view of plan.views) {
    document.querySelector(`label[for=view-${view}] span`).textContent = words(view, plan).name;
  }
}
