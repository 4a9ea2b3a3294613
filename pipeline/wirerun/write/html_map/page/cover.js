/* The part of the map that is seen: what was chosen lies over the rest, so that the plan itself never moves. */

/* Pixels of the map that the open sheet covers, from its foot or, on a phone on its side, from its right edge. */
function covered(map) {
  // Who walks a row has the sheet's room for that.
  const sheet = ["walk-bar", "sheet"].map((id) => document.getElementById(id)).find((one) => !one.hidden);
  if (!sheet || document.body.classList.contains("printing")) {
    return { below: 0, beside: 0 };
  }
  const [window, over] = [map.getContainer(), sheet].map((one) => one.getBoundingClientRect());
  return over.left > window.left + 1
    ? { below: 0, beside: Math.max(0, window.right - over.left) }
    : { below: Math.max(0, window.bottom - over.top), beside: 0 };
}

/* Tell the style sheet, which keeps scale and signs in sight. */
export function mark(map) {
  const { below, beside } = covered(map);
  const { style } = document.getElementById("plan");
  style.setProperty("--covered-below", `${below}px`);
  style.setProperty("--covered-beside", `${beside}px`);
}

export function seen(map) {
  const { below, beside } = covered(map);
  const { x, y } = map.getSize();
  const corner = (left, top) => map.containerPointToLatLng([left, top]);
  return L.latLngBounds(corner(0, 0), corner(Math.max(1, x - beside), Math.max(1, y - below)));
}

export function middle(map) {
  const { below, beside } = covered(map);
  return map.containerPointToLatLng(map.getSize().subtract([beside, below]).divideBy(2));
}

/* Move a place into sight, and no farther than it must. */
export function panInside(map, latlng) {
  const { below, beside } = covered(map);
  map.panInside(latlng, { paddingTopLeft: [50, 50], paddingBottomRight: [50 + beside, 50 + below], animate: false });
}

/* Go to a place: near enough to tell posts apart, but no nearer than the place is large. */
export function show(map, place) {
  const { below, beside } = covered(map);
  const near = map.getBoundsZoom(place.pad(0.3), false, L.point(beside, below));
  const zoom = Math.min(near, Math.max(map.getZoom(), 20));
  const centre = map.project(place.getCenter(), zoom).add([beside / 2, below / 2]);
  map.setView(map.unproject(centre, zoom), zoom, { animate: false });
}
