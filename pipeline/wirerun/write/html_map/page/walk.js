/*
 * Walking a row with a phone: the post at hand in large letters, the next one a thumb away, and a tick for what is done.
 * Ticks stay on the device, for this plan only: another plan has other posts.
 */
import { POST_CLASSES } from "./classes.js";
import { valueAt, wiresOf } from "./decode.js";
import { make } from "./elements.js";
import { distance } from "./measure.js";
import { postsOf } from "./row_card.js";
import * as states from "./states.js";
import * as units from "./units.js";
import { toLatLng } from "./world.js";

const byId = (id) => document.getElementById(id);
// Metres from a post beyond which nobody stands at it (choice: a receiver in a phone is good to about 5 m).
const AT_THE_POST = 15;

/* The ticked posts of a plan, by id, and what keeps them. Where a browser keeps nothing, they last as long as the page. */
export function ticksOf(mark, store) {
  const name = `wirerun ${mark}`;
  let ticked = new Set();
  try {
    ticked = new Set(JSON.parse(store.getItem(name) || "[]"));
  } catch {
    // No store, or somebody else's words in it.
  }
  return {
    has: (id) => ticked.has(id),
    turn(id) {
      if (!ticked.delete(id)) {
        ticked.add(id);
      }
      try {
        store.setItem(name, JSON.stringify([...ticked]));
        return true;
      } catch {
        return false;
      }
    },
  };
}

/* What is to be done at a post: its class, and what holds each wire. */
export function todo(plan, post) {
  const { posts } = plan;
  const name = POST_CLASSES[posts.classes.planned[post]];
  const lines = wiresOf(plan, posts.row[post])
    .map((k) => ({ wire: plan.wires[k].id, here: plan.posts.clips[k] }))
    .filter(({ here }) => here.clip[post])
    .map(({ wire, here }) => {
      const seat = here.seat[post] ? `, wire ${here.seat[post]}` : "";
      const fixing = here.fixing[post] ? `: ${valueAt(here.pieces, post)} \u00d7 ${here.fixing[post]}` : "";
      return `${wire}: ${here.clip[post]}${seat}${fixing}`;
    });
  return { words: states.words("planned", plan).posts[name], lines };
}

export function createWalk(map, plan, layer, { go, closed }) {
  const bar = byId("walk-bar");
  const button = byId("walk");
  let store = null;
  try {
    store = window.localStorage;
  } catch {
    // A page inside another has none.
  }
  const ticks = ticksOf(plan.mark, store);
  let all = [];
  let at = 0;

  function isOn() {
    return !bar.hidden;
  }

  function show() {
    const post = all[at];
    const { words, lines } = todo(plan, post);
    const from = units.amount(valueAt(plan.posts.of.station_m, post), "m", 1);
    const done = all.filter((one) => ticks.has(plan.posts.id[one])).length;
    byId("walk-post").textContent = plan.posts.id[post];
    byId("walk-words").replaceChildren(
      make("p", {}, `${words}, ${from} from the start. Post ${at + 1} of ${all.length}, ${done} ticked.`),
      make("ul", {}, ...lines.map((line) => make("li", {}, line))),
    );
    byId("walk-back").disabled = at === 0;
    byId("walk-next").disabled = at === all.length - 1;
    byId("walk-tick").setAttribute("aria-pressed", String(ticks.has(plan.posts.id[post])));
    layer.setTicked(all.filter((one) => ticks.has(plan.posts.id[one])));
  }

  /* Go along with what is chosen: another post of the row, or out of it. */
  function follow({ kind, index } = {}) {
    if (isOn() && kind === "post" && all.includes(index)) {
      at = all.indexOf(index);
      show();
    } else if (isOn()) {
      stop();
    }
    const row = kind === "row" ? index : kind === "post" ? plan.posts.row[index] : null;
    button.hidden = row === null || plan.rows.first[row] === null;
    button.dataset.row = row === null ? "" : String(row);
    button.dataset.post = kind === "post" ? String(index) : "";
  }

  function start() {
    const { row, post } = button.dataset;
    all = postsOf(plan.rows, Number(row));
    at = post ? all.indexOf(Number(post)) : 0;
    bar.hidden = false;
    document.body.classList.add("walking");
    go("post", all[at], { from: "walk" });
    byId("walk-next").focus({ preventScroll: true });
  }

  function stop() {
    const was = isOn();
    bar.hidden = true;
    document.body.classList.remove("walking");
    layer.setTicked([]);
    if (was) {
      closed();
    }
    return was;
  }

  function step(by) {
    go("post", all[Math.min(all.length - 1, Math.max(0, at + by))], { from: "walk" });
  }

  /* The phone is here: the nearest post of the row, if one is near. */
  function here(latlng) {
    if (!isOn() || !byId("walk-follow").checked) {
      return;
    }
    const { x, y } = plan.posts;
    const away = all.map((post) => distance(latlng, toLatLng(map, { x: x[post], y: y[post] }), plan.height_m));
    const least = Math.min(...away);
    const nearest = away.indexOf(least);
    if (least <= AT_THE_POST && nearest !== at) {
      go("post", all[nearest], { from: "walk" });
    }
  }

  button.addEventListener("click", start);
  byId("walk-back").addEventListener("click", () => step(-1));
  byId("walk-next").addEventListener("click", () => step(1));
  byId("walk-end").addEventListener("click", stop);
  byId("walk-tick").addEventListener("click", () => {
    const kept = ticks.turn(plan.posts.id[all[at]]);
    byId("walk-kept").textContent = kept ? "" : "This browser keeps no ticks once the page is closed.";
    show();
  });
  return { isOn, follow, stop, here };
}
