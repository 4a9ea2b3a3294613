/*
 * Points of web Mercator at zoom 0, where the world is 256 wide: from there the screen is one multiplication and one
 * subtraction away at any zoom.
 */
export const WORLD = 256;

/* The point of a longitude and a latitude [deg]: x to the east, y to the south. */
export function mercator(lon, lat) {
  const sine = Math.sin((lat * Math.PI) / 180);
  return {
    x: WORLD * (lon / 360 + 0.5),
    y: WORLD * (0.5 - Math.log((1 + sine) / (1 - sine)) / (4 * Math.PI)),
  };
}

export function toWorld(map, latlng) {
  return map.options.crs.latLngToPoint(latlng, 0);
}

export function toLatLng(map, point) {
  return map.options.crs.pointToLatLng(L.point(point.x, point.y), 0);
}
