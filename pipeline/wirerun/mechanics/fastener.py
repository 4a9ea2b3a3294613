"""What a fastener bears to the side, and both pulled and pushed: a clip's screw, a staple over the wire.

A clip is no side member: the wire's force on it acts a few millimetres off the wood, and the fastener is held by the
wood alone (`side_bearing`). The wood's density is that of the post, a mean like that of `timber`: what comes out is
about what half of all fasteners bear, to be divided by a safety factor. The head, the rope effect of a bent nail and
the grain's direction are left out; so is what the weather does to the wood at the surface.

References
----------
EN 1995-1-1 (Eurocode 5): 8.3.1.1, (8.14) yield moment of a round nail and (8.15) embedment of nails not predrilled;
8.4 yield moment of a staple's leg; 8.3.3, (8.27) and (8.28) both loads together. The yield moments were read in the
book Structural Timber Design (eurocode.us), table 10.5; (8.15), (8.27) and (8.28) in public programs of Eurocode 5. The
standard itself was not read.
"""

from typing import Final, Literal

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.side_bearing import push_to_bend, push_to_turn

_ROUND: Final = 0.3
_LEG_NMM: Final = 240.0


def embedment(density_kg_m3: FloatLike, diameter_mm: FloatLike) -> FloatArray:
    """Pressure that wood bears under a nail, over its diameter, shape of the inputs broadcast [N/mm2].

    0.082 rho d^-0.3, without a predrilled hole: with one it is more.

    >>> round(float(embedment(350.0, 3.0)), 2)
    20.64

    Parameters
    ----------
    density_kg_m3 : any shape, > 0
        Density of the wood at 12 % moisture. [kg/m3]
    diameter_mm : broadcasts, > 0
        Diameter of nail, leg or shank. [mm]

    Returns
    -------
    FloatArray
        Pressure. [N/mm2]

    Raises
    ------
    MechanicsError
        If a value is not above 0 and finite; names the first.
    """
    density, diameter = np.asarray(density_kg_m3, dtype=np.float64), np.asarray(diameter_mm, dtype=np.float64)
    require_positive("Embedment", density_kg_m3=density, diameter_mm=diameter)
    return np.asarray(0.082 * density * diameter**-0.3)


def yield_moment(
    kind: Literal["nail", "screw", "staple"], diameter_mm: FloatLike, strength_n_mm2: FloatLike
) -> FloatArray:
    """Moment at which a fastener's shank, or one leg of a staple, bends through, shape of the inputs broadcast [Nm].

    0.3 f_u d^2.6; of a staple's leg 240 d^2.6 N mm whatever its wire. A screw is taken for a nail of its shank.

    >>> round(float(yield_moment("nail", 3.0, 600.0)), 2)
    3.13

    Parameters
    ----------
    kind : "nail", "screw" or "staple"
        What it is.
    diameter_mm : any shape, > 0
        Diameter of shank or leg. [mm]
    strength_n_mm2 : broadcasts, > 0
        Tensile strength of its steel, f_u. [N/mm2]

    Returns
    -------
    FloatArray
        Of a shank or leg. [Nm]

    Raises
    ------
    MechanicsError
        If a value is not above 0 and finite; names the first.
    """
    diameter, strength = np.asarray(diameter_mm, dtype=np.float64), np.asarray(strength_n_mm2, dtype=np.float64)
    require_positive("Yield moment", diameter_mm=diameter, strength_n_mm2=strength)
    per = np.full_like(strength, _LEG_NMM) if kind == "staple" else _ROUND * strength
    return np.asarray(per * diameter**2.6 / 1000.0)


def shear_load(
    density_kg_m3: FloatLike, diameter_mm: FloatLike, depth_mm: FloatLike, arm_mm: FloatLike, yield_moment_nm: FloatLike
) -> FloatArray:
    """Push across one nail, leg or screw at a distance from the wood, shape of the inputs broadcast [N].

    The smaller of what turns it in its hole and what bends it through. A nail of 3 mm, f_u 600 N/mm2, 50 mm deep in
    wood of 350 kg/m3, pushed at the wood, 3 and 6 mm off it:

    >>> shear_load(350.0, 3.0, 50.0, np.array([0.0, 3.0, 6.0]), yield_moment("nail", 3.0, 600.0)).round(1).tolist()
    [622.8, 464.1, 353.7]

    Parameters
    ----------
    density_kg_m3, diameter_mm
        As for `embedment`.
    depth_mm : broadcasts, > 0
        Length in the wood. [mm]
    arm_mm : broadcasts, >= 0
        Distance of the push from the wood. [mm]
    yield_moment_nm : broadcasts, > 0
        Of `yield_moment`. [Nm]

    Returns
    -------
    FloatArray
        Divide it by a safety factor. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first.
    """
    diameter, arm = np.asarray(diameter_mm, dtype=np.float64), np.asarray(arm_mm, dtype=np.float64)
    require_non_negative("Shear", arm_mm=arm)
    per_m = 1000.0 * embedment(density_kg_m3, diameter) * diameter
    turned = push_to_turn(per_m, arm / 1000.0, np.asarray(depth_mm, dtype=np.float64) / 1000.0)
    return np.asarray(np.minimum(turned, push_to_bend(per_m, arm / 1000.0, yield_moment_nm)))


def used_together(pull: FloatLike, push: FloatLike, smooth: BoolArray) -> FloatArray:
    """How much of a fastener two loads take together, shape of the inputs broadcast [-]; above 1 it does not hold.

    The sum of both shares for smooth nails and staples, Eurocode 5 (8.27); the root of the sum of their squares for
    others and for screws, from (8.28), so that all loads grown by a factor raise it by the same.

    >>> used_together(0.6, 0.8, np.array([True, False])).round(2).tolist()
    [1.4, 1.0]

    Parameters
    ----------
    pull, push : any shape, >= 0
        Load along and across the fastener, each over what it bears alone. [-]
    smooth : broadcasts
        Whether its shank is smooth.

    Returns
    -------
    FloatArray
        Share used. [-]

    Raises
    ------
    MechanicsError
        If a share is negative or not finite; names the first.
    """
    along, across = np.asarray(pull, dtype=np.float64), np.asarray(push, dtype=np.float64)
    require_non_negative("Loads together", pull=along, push=across)
    return np.asarray(np.where(smooth, along + across, np.hypot(along, across)))
