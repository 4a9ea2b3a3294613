/* How marks of the review look; colours that people who see few of them can tell apart, and a second sign each. */
export const SURE = { color: "#08306b", weight: 2.5, opacity: 1 };
export const DOUBTFUL = { color: "#d55e00", weight: 4, dashArray: "7 5", opacity: 1 };
export const EDGE = { color: "#ffffff", weight: 6, opacity: 0.75, interactive: false };
/* A post that is sure is round, a doubtful one an open triangle. */
export const POST = {
  sure: { radius: 4, color: "#ffffff", weight: 1.5, fillColor: "#08306b", fillOpacity: 1 },
  drawn: { fill: "#08306b", stroke: "#ffffff", "stroke-width": 1.5 },
  triangle: "M8 1L15 14H1Z",
  doubtful: { fill: "#ffffff", stroke: "#d55e00", "stroke-width": 2.5 },
};
export const POINT = {
  used: { radius: 6, color: "#000000", weight: 2, fillColor: "#ffffff", fillOpacity: 1 },
  leftOut: { radius: 6, color: "#000000", weight: 1.5, dashArray: "2 2", fillColor: "#f0e442", fillOpacity: 0.6 },
  drawn: { fill: "#ffffff", stroke: "#000000", "stroke-width": 2 },
};
