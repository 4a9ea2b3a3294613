import assert from "node:assert/strict";
import { test } from "node:test";
import { area, distance, length } from "../../pipeline/wirerun/write/html_map/page/measure.js";

const near = (value, wanted, relative) =>
  assert.ok(Math.abs(value / wanted - 1) < relative, `${value} is not within ${relative} of ${wanted}`);
const place = (lat, lng) => ({ lat, lng });
const corners = [place(41.201, -7.542), place(41.2032, -7.5391), place(41.2045, -7.5432)];

test("distances are those of the geodesic on WGS 84", () => {
  // GeographicLib 2.0, Inverse (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013).
  near(distance(corners[0], corners[1], 0), 344.766621055923, 1e-7);
  near(distance(corners[1], corners[2], 0), 372.9665304934592, 1e-7);
  near(distance(place(-36, 144), place(-36.03, 144.02), 0), 3785.6742749415507, 1e-7);
  near(length(corners, 0), 344.766621055923 + 372.9665304934592, 1e-7);
});

test("an area is that of the geodesic polygon, whichever way round", () => {
  near(area(corners, 0), 59570.208300590515, 2e-5);
  near(area([...corners].reverse(), 0), 59570.208300590515, 2e-5);
});

test("on high ground everything is longer, by its height over the Earth's radius", () => {
  near(distance(corners[0], corners[1], 637.8), 344.766621055923 * (1 + 637.8 / 6378137), 1e-7);
  near(area(corners, 637.8), 59570.208300590515 * (1 + 637.8 / 6378137) ** 2, 2e-5);
});
