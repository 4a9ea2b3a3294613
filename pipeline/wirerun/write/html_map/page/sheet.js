/*
 * The sheet under the map: what was clicked or found, with the profile of its row where it has one. The slider walks
 * from post to post; it is a real one, so that arrow keys, Home, End and screen readers work as everywhere.
 */
import * as areaCards from "./area_cards.js";
import { POST_CLASSES } from "./classes.js";
import { valueAt, wiresOf } from "./decode.js";
import { make } from "./elements.js";
import * as postCard from "./post_card.js";
import * as profile from "./profile.js";
import * as profileLegend from "./profile_legend.js";
import * as rowCard from "./row_card.js";
import * as shapes from "./shapes.js";
import * as states from "./states.js";
import * as units from "./units.js";

const BAR = 14; // pixels of a bar to scroll by
const byId = (id) => document.getElementById(id);
const makers = {
  post: postCard.card,
  row: rowCard.card,
  section: areaCards.section,
  block: areaCards.block,
  exclusion: areaCards.exclusion,
  zone: areaCards.zone,
  finding: areaCards.finding,
};

/* The row whose profile goes with a thing, or null. */
function rowOf(plan, { kind, index }) {
  const rows = { row: () => index, post: () => plan.posts.row[index], section: () => plan.sections.row[index] };
  return kind in rows ? rows[kind]() : null;
}

/* `palette` gives the colours of the day, `go` shows another thing, `find` finds one by its id, `shut` is the way out. */
export function createSheet(plan, { palette, go, find, shut }) {
  let open = null;
  const slider = byId("profile-post");
  const drawing = byId("profile-drawing");

  function firstOf(row) {
    return plan.rows.first[row];
  }

  function show(thing, view) {
    open = { thing, view };
    const [title, ...parts] = makers[thing.kind](plan, thing.index, go, { view, find });
    byId("sheet-title").textContent = title;
    byId("card").replaceChildren(make("div", { class: "card", "data-kind": thing.kind }, ...parts));
    byId("card").scrollTop = 0;
    document.body.classList.add("sheet-open");
    byId("sheet").hidden = false;
    const row = rowOf(plan, thing);
    byId("profile").hidden = row === null || firstOf(row) === null;
    byId("sheet").classList.toggle("with-profile", !byId("profile").hidden);
    if (!byId("profile").hidden) {
      fillSlider(row);
      paint();
    }
  }

  function fillSlider(row) {
    const { thing } = open;
    slider.max = String(plan.rows.last[row] - firstOf(row) + 1);
    slider.value = thing.kind === "post" ? String(thing.index - firstOf(row) + 1) : "1";
    slider.setAttribute("aria-valuetext", thing.kind === "post" ? said(thing.index) : "no post chosen yet");
  }

  /* A post in one line. */
  function said(post) {
    const { posts } = plan;
    const { posts: words } = states.words(open.view, plan);
    const name = POST_CLASSES[posts.classes[open.view][post]];
    const from = units.amount(valueAt(posts.of.station_m, post), "m", 1);
    return `${posts.id[post]}, ${from} from the start, ${words[name] || ""}`;
  }

  function paint() {
    const { thing, view } = open;
    const row = rowOf(plan, thing);
    const colours = palette();
    const now = {
      view,
      post: thing.kind === "post" ? thing.index : null,
      section: thing.kind === "section" ? thing.index : null,
      width: drawing.clientWidth,
      height: drawing.offsetHeight - BAR,
      palette: { ...colours, marks: shapes.marksOf(colours) },
      levelled: byId("profile-level").checked,
      spread: byId("profile-wide").checked,
      pick: (post) => go("post", post, { from: "profile" }),
    };
    const { drawing: picture, note, canSpread } = profile.draw(plan, row, now);
    drawing.replaceChildren(picture);
    byId("profile-wide-label").hidden = !canSpread;
    byId("profile-legend").replaceChildren(...profileLegend.lines(plan, picture, wiresOf(plan, row), now));
    byId("profile-note").textContent = [note, legend(view, row)].filter(Boolean).join(" ");
    keepInSight(picture);
  }

  function legend(view, row) {
    const own = wiresOf(plan, row).map((k) => plan.wires[k]);
    if (view === "dropped") {
      const foliage = own.filter((wire) => wire.kind === "foliage").map((wire) => wire.id);
      return `Let down between the end posts: ${foliage.join(", ")}.`;
    }
    return `Bars at each post, from left: ${own.map((wire) => wire.id).join(", ")}.`;
  }

  /* A long row is wider than the sheet: the chosen post must not be outside it. */
  function keepInSight(picture) {
    const chosen = picture.querySelector(".chosen");
    if (chosen) {
      const at = Number(chosen.getAttribute("x"));
      const [from, room] = [drawing.scrollLeft, drawing.clientWidth];
      if (at < from + 60 || at > from + room - 60) {
        drawing.scrollLeft = at - room / 2;
      }
    }
  }

  function close() {
    open = null;
    byId("sheet").hidden = true;
    document.body.classList.remove("sheet-open");
  }

  /* The same thing again, after a change of state, units, width or paper. */
  function refresh(view) {
    if (open) {
      const at = byId("card").scrollTop;
      const unfolded = byId("card").querySelector("details[open]");
      show(open.thing, view || open.view);
      byId("card").scrollTop = at;
      const again = byId("card").querySelector("summary");
      if (unfolded && again) {
        again.click();
      }
    }
  }

  slider.addEventListener("input", () => {
    const row = rowOf(plan, open.thing);
    go("post", firstOf(row) + Number(slider.value) - 1, { from: "profile" });
  });
  byId("profile-level").addEventListener("change", paint);
  byId("profile-wide").addEventListener("change", paint);
  byId("sheet-close").addEventListener("click", shut);
  let size = "";
  new ResizeObserver(() => {
    const now = `${drawing.clientWidth} ${drawing.offsetHeight}`;
    if (open && !byId("profile").hidden && now !== size) {
      size = now;
      paint();
    }
  }).observe(drawing);
  return { show, close, refresh };
}
