/* Contour lines at whole heights in the units of the day: whole metres, or whole feet. */
import * as units from "./units.js";

export function contoursOf(plan) {
  return units.isImperial() ? plan.contours.feet : plan.contours.metres;
}

/* The height between two of them, in the units of the day. */
export function contourStep(plan) {
  return units.isImperial() ? plan.backdrop.contour_step_ft : plan.backdrop.contour_step;
}
