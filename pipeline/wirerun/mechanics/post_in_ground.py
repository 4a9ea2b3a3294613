"""A post pushed sideways: what the ground beside it bears, by rules that differ twentyfold.

None of these is a design: the ground of a hillside is none of the books'. A pull measured on a post of the same kind in
the same ground, and a competent person, go before all of them.

References
----------
International Building Code, 1807.3.2.1 (up.codes): posts embedded and not held at the surface; its bearing pressure is
an *allowable* one, at a third of the depth. B. B. Broms, short piles with a free head: in clay, J. Soil Mech. Found.
Div. ASCE 90 SM2, 1964 (as Foundation Engineering 6.24, oercollective.caul.edu.au, has it); in sand, 90 SM3, 1964 (from
memory: three times the passive pressure, which grows with depth, and moments about the foot). Both are *ultimate*.
"""

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.side_bearing import push_to_turn


def push_by_code(depth_m: FloatLike, width_m: FloatLike, height_m: FloatLike, bearing_pa: FloatLike) -> FloatArray:
    """Push that a building code allows on a post that nothing holds at the surface, shape of the inputs broadcast [N].

    The code gives the depth, d = A/2 (1 + sqrt(1 + 4.36 h/A)) with A = 2.34 P/(S b); solved for the push, A =
    d^2/(d + 1.09 h). A post of 0.1 m, 0.6 m deep, pulled at 1.5 m, where 47.1 kPa a metre of depth are allowed:

    >>> round(float(push_by_code(0.6, 0.1, 1.5, 47.1e3 * 0.6 / 3.0)), 1)
    64.8

    Parameters
    ----------
    depth_m, width_m : any shape, > 0
        Depth in the ground, and width that presses on it. [m]
    height_m : broadcasts, >= 0
        Height at which it is pushed. [m]
    bearing_pa : broadcasts, > 0
        Allowable pressure to the side at a third of the depth, S. [Pa]

    Returns
    -------
    FloatArray
        Allowable; no factor is to be put on it. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first.
    """
    depth, width, height, bearing = _checked(depth_m, width_m, height_m, bearing_pa=bearing_pa)
    return np.asarray(bearing * width * depth**2 / (2.34 * (depth + 1.09 * height)))


def push_in_clay(depth_m: FloatLike, width_m: FloatLike, height_m: FloatLike, shear_pa: FloatLike) -> FloatArray:
    """Push that turns a short post in clay, shape of the inputs broadcast [N]; 0 where it is within the top.

    The clay presses by 9 c_u over the width, but not in the top 1.5 widths.

    >>> round(1.5 * float(push_in_clay(0.6, 0.1, 1.5, 50e3)))  # moment at the ground [Nm]
    1816

    Parameters
    ----------
    depth_m, width_m, height_m
        As for `push_by_code`.
    shear_pa : broadcasts, > 0
        Undrained shear strength, c_u. [Pa]

    Returns
    -------
    FloatArray
        Ultimate: divide it by a safety factor. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first.
    """
    depth, width, height, shear = _checked(depth_m, width_m, height_m, shear_pa=shear_pa)
    held = depth - 1.5 * width
    push = push_to_turn(9.0 * shear * width, height + 1.5 * width, np.where(held > 0.0, held, 1.0))
    return np.asarray(np.where(held > 0.0, push, 0.0))


def push_in_sand(
    depth_m: FloatLike, width_m: FloatLike, height_m: FloatLike, weight_n_m3: FloatLike, friction_deg: FloatLike
) -> FloatArray:
    """Push that turns a short post in sand, shape of the inputs broadcast [N].

    0.5 gamma b L^3 K_p/(e + L), with K_p = tan^2(45 deg + phi/2).

    >>> round(1.5 * float(push_in_sand(0.6, 0.1, 1.5, 18e3, 32.0)))  # moment at the ground [Nm]
    452

    Parameters
    ----------
    depth_m, width_m, height_m
        As for `push_by_code`.
    weight_n_m3 : broadcasts, > 0
        Weight of the ground, gamma. [N/m3]
    friction_deg : broadcasts, > 0
        Its angle of friction, phi. [deg]

    Returns
    -------
    FloatArray
        Ultimate: divide it by a safety factor. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first.
    """
    depth, width, height, weight = _checked(depth_m, width_m, height_m, weight_n_m3=weight_n_m3)
    friction = np.asarray(friction_deg, dtype=np.float64)
    require_positive("Post in the ground", friction_deg=friction)
    passive = np.tan(np.radians(45.0 + friction / 2.0)) ** 2
    return np.asarray(0.5 * weight * width * depth**3 * passive / (height + depth))


def _checked(
    depth_m: FloatLike, width_m: FloatLike, height_m: FloatLike, **ground: FloatLike
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    depth, width, height, soil = (
        np.asarray(value, dtype=np.float64) for value in (depth_m, width_m, height_m, *ground.values())
    )
    require_positive("Post in the ground", depth_m=depth, width_m=width, **dict.fromkeys(ground, soil))
    require_non_negative("Post in the ground", height_m=height)
    return depth, width, height, soil
