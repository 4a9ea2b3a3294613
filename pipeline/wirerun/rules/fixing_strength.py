"""What holds a fixing in a post of timber: the pull that draws it out, and the push across it."""

from typing import Final

import numpy as np

from wirerun.mechanics.fastener import shear_load, yield_moment
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal
from wirerun.settings.catalogue import PostItem
from wirerun.settings.fixing_item import FixingItem

_LEGS: Final = {"staple": 2, "nail": 1}
# Specific gravity has the oven-dry weight: with 12 % moisture the wood weighs so much [kg/m3].
_PER_GRAVITY: Final = 1000.0 * 1.12


def withdrawal_n(item: FixingItem, post: PostItem) -> float:
    """Pull that draws all fasteners of a fixing out of a post, a mean [N]; inf where none is in wood."""
    if item.fastener_kind == "none" or post.specific_gravity is None:
        return np.inf
    size = (post.specific_gravity, item.fastener_diameter_mm, item.fastener_length_mm)
    if item.fastener_kind == "screw":
        return float(item.fasteners * screw_withdrawal(*size))
    return float(item.fasteners * _LEGS[item.fastener_kind] * nail_withdrawal(*size))


def shear_n(item: FixingItem, post: PostItem, arm_mm: float, strength_n_mm2: float) -> float:
    """Push across all fasteners of a fixing so far off a post that bends or turns them, a mean [N]; inf likewise.

    Parameters
    ----------
    item, post
        The fixing and the post.
    arm_mm : float
        How far off the wood the wire bears on it. [mm]
    strength_n_mm2 : float
        Tensile strength of the fastener's steel; a staple's does not count. [N/mm2]
    """
    if item.fastener_kind == "none" or post.specific_gravity is None:
        return np.inf
    diameter = item.fastener_diameter_mm
    one = shear_load(
        _PER_GRAVITY * post.specific_gravity,
        diameter,
        item.fastener_length_mm,
        arm_mm,
        yield_moment(item.fastener_kind, diameter, strength_n_mm2),
    )
    return float(item.fasteners * _LEGS.get(item.fastener_kind, 1) * one)
