/* Where the reader stands, from the phone's satellite receiver, if the browser lets a page from a file know. */
import COLOURS from "./colours.json" with { type: "json" };
import * as measure from "./measure.js";
import * as units from "./units.js";

const SENTENCES = {
  1: "The browser does not let this page know where you are. Its settings for this file decide that.",
  2: "Your position cannot be found here just now.",
  3: "Finding your position took too long. Go where the sky is open and try again.",
  none: "This browser tells a page from a file no position.",
};

/* `heard` is told of every position. Returns what starts looking for it, if it is not looked for yet. */
export function create(map, plan, whole, toggle, heard) {
  const says = document.getElementById("position-says");
  const renderer = L.svg({ padding: 0.5 });
  let watch = null;
  let drawn = [];
  let first = true;

  function say(words) {
    says.textContent = words;
    says.hidden = !words;
  }

  function clear() {
    drawn.forEach((layer) => layer.remove());
    drawn = [];
  }

  function found({ coords }) {
    const here = L.latLng(coords.latitude, coords.longitude);
    const colour = COLOURS.screen.measure;
    clear();
    heard(here);
    drawn.push(
      L.circle(here, {
        radius: coords.accuracy,
        color: colour,
        weight: 1,
        fillOpacity: 0.1,
        interactive: false,
        renderer,
      }),
      L.circleMarker(here, {
        radius: 9,
        color: "#ffffff",
        weight: 3,
        fillColor: colour,
        fillOpacity: 1,
        interactive: false,
        renderer,
      }),
    );
    drawn.forEach((layer) => layer.addTo(map));
    const sure = `to about ${units.amount(coords.accuracy, "m", 0)}`;
    if (whole.pad(0.2).contains(here)) {
      say(`Your position, ${sure}.`);
      if (first) {
        map.setView(here, Math.max(map.getZoom(), 19), { animate: false });
      }
    } else {
      const far = measure.distance(here, whole.getCenter(), plan.height_m);
      say(`You are ${units.amount(far, "m", 0, true)} from the middle of the plan (${sure}).`);
    }
    first = false;
  }

  function lost(error) {
    const words = SENTENCES[error.code] || SENTENCES[2];
    stop();
    say(words);
  }

  function stop() {
    if (watch !== null) {
      navigator.geolocation.clearWatch(watch);
    }
    watch = null;
    clear();
    say("");
    toggle.setAttribute("aria-pressed", "false");
  }

  function start() {
    if (!navigator.geolocation) {
      say(SENTENCES.none);
      return;
    }
    first = true;
    toggle.setAttribute("aria-pressed", "true");
    say("Looking for your position \u2026");
    watch = navigator.geolocation.watchPosition(found, lost, {
      enableHighAccuracy: true,
      timeout: 20000,
      maximumAge: 0,
    });
  }

  toggle.addEventListener("click", () => (watch === null ? start() : stop()));
  return { start: () => watch === null && start() };
}
