/* Metric or imperial: for the eye only. The plan is metric, and so is everything that it is written into. */
export const DASH = "\u2013";
const NO_BREAK = "\u00a0";
// Exact by definition but for the acre (international foot) and the pound-foot, which follow from the others.
const FOOT_M = 0.3048;
const POUND_N = 4.4482216152605;
const IMPERIAL = {
  m: { sign: "ft", from: (m) => m / FOOT_M },
  mm: { sign: "in", from: (mm) => mm / 25.4, more: 2 },
  // A newton is not a quarter of a pound.
  N: { sign: "lbf", from: (n) => n / POUND_N, more: 1 },
  Nm: { sign: "lbf\u00b7ft", from: (nm) => nm / (POUND_N * FOOT_M) },
  ha: { sign: "ac", from: (ha) => (ha * 1e4) / (4840 * (3 * FOOT_M) ** 2) },
  "m\u00b2": { sign: "ft\u00b2", from: (m2) => m2 / FOOT_M ** 2 },
  C: { sign: "\u00b0F", from: (c) => 1.8 * c + 32 },
};
const METRIC_SIGNS = { deg: "\u00b0", C: "\u00b0C" };
let imperial = false;

export function set(system) {
  imperial = system === "imperial";
}

export function isImperial() {
  return imperial;
}

export function sign(unit) {
  return (imperial && IMPERIAL[unit] ? IMPERIAL[unit].sign : METRIC_SIGNS[unit]) || unit;
}

/* What one of a unit is in the units of the day; of lengths, forces and areas only. */
export function factor(unit) {
  return imperial ? IMPERIAL[unit].from(1) : 1;
}

/* The number alone, grouped by thousands where asked; a long dash where there is none. */
export function number(value, unit, decimals, grouped = false) {
  if (value === null || value === undefined) {
    return DASH;
  }
  const other = imperial ? IMPERIAL[unit] : null;
  const shown = other ? other.from(value) : value;
  const places = decimals + (other?.more || 0);
  const written = rounded(shown, places).toFixed(places);
  return grouped ? group(written) : written;
}

/* Halves away from zero, and what is nearly one is one; no zero below zero. The same rule as in rounding.py. */
function rounded(value, places) {
  const scale = 10 ** places;
  const size = Math.floor(Math.abs(value) * scale + 0.5 + 1e-6) / scale;
  return value < 0 && size > 0 ? -size : size;
}

/* "12345.6" -> "12 345.6": a narrow space that does not break, for no country reads it as a decimal mark. */
function group(written) {
  const [front, back] = written.split(".");
  const spaced = front.replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
  return back ? `${spaced}.${back}` : spaced;
}

/* Number and unit on one line. */
export function amount(value, unit, decimals, grouped = false) {
  const written = number(value, unit, decimals, grouped);
  const named = sign(unit);
  return named.startsWith("\u00b0") && unit !== "C" ? written + named : `${written}${named ? NO_BREAK + named : ""}`;
}

export function grouped(value, decimals = 0) {
  return group(rounded(value, decimals).toFixed(decimals));
}

export function degrees(celsius) {
  return amount(celsius, "C", 0).replace("-", "\u2212");
}

/* "Run out, m": a column's head with the unit of the day. */
export function head(label, unit) {
  return `${label}, ${sign(unit)}`;
}

const SMALLEST = 3; // digits of a converted number (choice)
const IN_WORDS = /(\d[\d\u202f ]*(?:\.\d+)?)([ \u00a0])(mm|m|Nm|N|ha)(?![\p{L}\p{N}/\u00b2\u00b3])/gu;

/* A sentence of the plan in the units of the day: "12 m" -> "39.4 ft". Names of settings and things stay as they are. */
export function sentence(text) {
  if (!imperial) {
    return text;
  }
  return text.replace(IN_WORDS, (_, written, space, unit) => {
    const value = Number(written.replace(/[\u202f ]/g, ""));
    const other = IMPERIAL[unit].from(value);
    const digits = Math.max(0, SMALLEST - 1 - Math.floor(Math.log10(Math.abs(other) || 1)));
    const places = Math.max(0, Math.min(digits, (written.split(".")[1] || "").length + 2));
    return `${group(other.toFixed(places))}${space}${IMPERIAL[unit].sign}`;
  });
}
