"""A slender thing pushed sideways beside what holds it: a nail in wood, a post in clay.

What holds it presses back by at most q newtons a metre of its length, from the first to the last of it. Pushed at a
distance e from where that begins, it either turns as a whole, or bends through at one place. The balance of forces and
of moments gives the push at which each happens; the smaller counts.

A fastener under a clip is so held: the clip is no side member that would guide it. With two members, each pushed by the
other, the same two formulas give the yield limit of a nailed joint: the distance is then what both have in common.

References
----------
K. W. Johansen, Theory of timber connections, IABSE Publications 9 (1949) 249-262 (not read; Bejtka and Blass,
CIB-W18/35-7-5, say what it rests on, and the balances are made here). With e = 0 they are those of Eurocode 5, (8.9),
before its additions: 0.414 f_h t d and sqrt(2 M_y f_h d).
"""

import numpy as np

from wirerun.arrays import FloatArray, FloatLike
from wirerun.errors import MechanicsError
from wirerun.mechanics.refusals import require_finite, require_positive


def push_to_turn(pressure_n_per_m: FloatLike, arm_m: FloatLike, depth_m: FloatLike) -> FloatArray:
    """Push that turns a stiff thing as a whole, shape of the inputs broadcast [N].

    q (sqrt((2 e + t)^2 + t^2) - (2 e + t)): pressed one way down to where it turns, the other way below. A nail of 3 mm
    that is held by 60 N/mm over 20 mm, pushed at the wood and 6 mm from it:

    >>> push_to_turn(60e3, np.array([0.0, 0.006]), 0.02).round().tolist()
    [497.0, 344.0]

    Parameters
    ----------
    pressure_n_per_m : any shape, > 0
        Most that a metre of it is held by, q. [N/m]
    arm_m : broadcasts
        Distance of the push from where it is held, e; negative where the push lies within, down to half the depth. [m]
    depth_m : broadcasts, > 0
        Length over which it is held, t. [m]

    Returns
    -------
    FloatArray
        The push. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first offender.
    """
    pressure, arm, depth = (np.asarray(value, dtype=np.float64) for value in (pressure_n_per_m, arm_m, depth_m))
    require_positive("Push that turns", pressure_n_per_m=pressure, depth_m=depth)
    require_finite("Push that turns", arm_m=arm)
    reach = 2.0 * arm + depth
    if (reach < 0.0).any():
        message = "Push that turns: arm_m must not lie deeper than half of depth_m."
        raise MechanicsError(message)
    # As t^2 over the sum, which keeps its digits where the arm is long.
    return np.asarray(pressure * depth**2 / (np.hypot(reach, depth) + reach))


def push_to_bend(pressure_n_per_m: FloatLike, arm_m: FloatLike, yield_moment_nm: FloatLike) -> FloatArray:
    """Push that bends a thing through where it is held deep enough, shape of the inputs broadcast [N].

    q (sqrt(e^2 + 2 M/q) - e): the hinge stands where the pressure above it has taken up the push. The nail of
    `push_to_turn` with a yield moment of 3 Nm:

    >>> push_to_bend(60e3, np.array([0.0, 0.006]), 3.0).round().tolist()
    [600.0, 340.0]

    Parameters
    ----------
    pressure_n_per_m, arm_m
        As for `push_to_turn`.
    yield_moment_nm : broadcasts, > 0
        Moment at which it bends through. [Nm]

    Returns
    -------
    FloatArray
        The push. [N]

    Raises
    ------
    MechanicsError
        If a value cannot be; names the first offender.
    """
    pressure, arm, moment = (
        np.asarray(value, dtype=np.float64) for value in (pressure_n_per_m, arm_m, yield_moment_nm)
    )
    require_positive("Push that bends", pressure_n_per_m=pressure, yield_moment_nm=moment)
    require_finite("Push that bends", arm_m=arm)
    return np.asarray(pressure * (np.sqrt(arm**2 + 2.0 * moment / pressure) - arm))
