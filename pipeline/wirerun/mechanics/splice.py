"""A wire that breaks in one place: how far its ends draw back, and what is left of a pull from there.

Strung, every metre is longer than without pull by T/EA. Where the wire parts, that much of it runs back through the
clips on either side: a gap in a broken wire is mostly no missing wire. With friction less of it does, so what is given
here is the most.

Drawn together again at the break and strained there, the pull falls off towards both ends by exp(-mu theta), theta the
turns in the clips on the way (`wirerun.mechanics.friction`).
"""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.chain import Chain
from wirerun.mechanics.friction import capstan_factor, clip_turns


class DrawnBack(NamedTuple):
    """How far the two ends of a broken wire draw back at most, towards the first and the last support [m]."""

    near_m: float
    far_m: float


class Kept(NamedTuple):
    """Share of a pull that is left at the first and at the last support of a row [-]."""

    near: float
    far: float


def drawn_back(chain: Chain, span: int, share: float) -> DrawnBack:
    """How far the ends of the wire of one row draw back when it parts within a span.

    60 m of level 6 m spans, 2.5 mm wire at 300 N, parted after two spans and a half: 15 m and 45 m of 0.306 mm each.

    >>> level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=int))
    >>> back = drawn_back(solve_chain(level, Wire.from_diameter(2.5), 300.0), 2, 0.5)
    >>> round(1000.0 * back.near_m, 1), round(1000.0 * back.far_m, 1)
    (4.6, 13.7)

    Parameters
    ----------
    chain : Chain
        The wire before it breaks, of one row.
    span : int
        Number of the span, from 0.
    share : float, 0 to 1
        How far along the span.

    Returns
    -------
    DrawnBack
        Towards the first and the last support. [m]

    Raises
    ------
    MechanicsError
        If there is no such span, or more rows than one.
    """
    longer = chain.spans.stretched_m - chain.spans.unstretched_m
    if chain.rows.count != 1 or not 0 <= span < len(longer):
        message = f"A broken wire: span {span} of {len(longer)} in {chain.rows.count} rows; one is wanted."
        raise MechanicsError(message)
    before = float(longer[:span].sum() + share * longer[span])
    return DrawnBack(before, float(longer.sum()) - before)


def kept_at_ends(chain: Chain, mu: float, span: int, plan_turn_rad: FloatArray) -> Kept:
    """Share of a pull in one span that is left at the ends of its row.

    Every other post of twenty 0.3 m up, strained in the middle: half of the turns on either side.

    >>> zigzag = Supports(6.0 * np.arange(21.0), 0.3 * (np.arange(21) % 2), np.zeros(21, dtype=int))
    >>> kept = kept_at_ends(solve_chain(zigzag, Wire.from_diameter(2.5), 300.0), 0.2, 10, np.zeros(21))
    >>> round(kept.near, 3), round(kept.far, 3)
    (0.819, 0.834)

    Parameters
    ----------
    chain : Chain
        The wire without friction, of one row.
    mu : float, >= 0
        Friction in the clips. [-]
    span : int
        Number of the span, from 0.
    plan_turn_rad : shape (n_supports,)
        As for `clip_turns`. [rad]

    Returns
    -------
    Kept
        At the first and the last support. [-]
    """
    turn = np.nan_to_num(clip_turns(chain, plan_turn_rad))
    return Kept(
        float(capstan_factor(mu, turn[: span + 1].sum())),
        float(capstan_factor(mu, turn[span + 1 :].sum())),
    )
