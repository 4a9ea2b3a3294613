"""The wire of a setting, as mechanics knows it, and what it hangs on."""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire
from wirerun.model.layout import Posts
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


def hung(posts: Posts, wire: WireSettings, height_m: FloatLike | None = None) -> Supports:
    """Supports of a wire at its height, or lifted to another: its clips where they are set, its staples at the height.

    Parameters
    ----------
    posts : Posts
        Where it runs.
    wire : WireSettings
        Its height, what holds it, and whether its ends are lifted too.
    height_m : float or [post], optional
        Height on the intermediate posts. [m]
    """
    at_ends = height_m if height_m is not None and wire.ends_move else wire.height_m
    return posts.supports(at_ends, height_m, in_clips=wire.holder == "clip")


def stapled(wires: tuple[WireSettings, ...]) -> BoolArray:
    """Which wires are held by staples, [wire]; the others are held by clips."""
    return np.array([wire.holder == "staple" for wire in wires], dtype=np.bool_)
