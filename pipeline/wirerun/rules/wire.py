"""The wire of a setting, as mechanics knows it."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.mechanics.wire import Wire
from wirerun.settings import WireSettings


def wire_of(settings: WireSettings) -> Wire:
    """Weight, stiffness and thermal expansion of one line of the wire.

    Parameters
    ----------
    settings : WireSettings
        Diameter, density, Young's modulus and expansion.

    Returns
    -------
    Wire
        One number each.
    """
    return Wire.from_diameter(
        settings.diameter_mm,
        settings.density_kg_m3,
        settings.youngs_modulus_gpa * 1e9,
        settings.expansion_per_k,
    )


def run_out_m(wires: tuple[WireSettings, ...], cut_m: FloatArray, adjuster_tail_m: FloatArray) -> FloatArray:
    """Wire to run out for all lines, tails for both ends and the adjuster among it, [wire, row] [m].

    Parameters
    ----------
    wires : tuple of WireSettings
        Their lines and tails.
    cut_m, adjuster_tail_m : [wire, row]
        Unstretched length of one line, and what an adjuster of it takes. [m]
    """
    lines = np.array([wire.lines for wire in wires], dtype=np.int64)[:, None]
    return np.asarray(lines * (cut_m + tails_m(wires, adjuster_tail_m)))


def tails_m(wires: tuple[WireSettings, ...], adjuster_tail_m: FloatArray) -> FloatArray:
    """Tails of one line of each wire, both ends and the adjuster's, [wire, row] [m]."""
    return np.asarray(np.array([2.0 * wire.tail_m for wire in wires])[:, None] + adjuster_tail_m)


def stapled(wires: tuple[WireSettings, ...]) -> BoolArray:
    """Which wires are held by staples, [wire]; the others are held by clips."""
    return np.array([wire.holder == "staple" for wire in wires], dtype=np.bool_)
