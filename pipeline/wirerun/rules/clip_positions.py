"""Where clips stand on a post, which wire each belongs to, and how high a wire can be lifted."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.geometry.station import first_and_last
from wirerun.settings import ClipSettings, WireSettings

# Decimals of a metre: two places closer than a millimetre are one, for nobody sets a clip more finely (choice).
_DECIMALS: Final = 3


@dataclass(frozen=True, slots=True, eq=False)
class ClipPositions:
    """Places for clips; wires in the order given, posts likewise, places rising.

    Attributes
    ----------
    height_m : shape (places,)
        Height above the ground of every place at which a post may have a clip, or a wire be fast. [m]
    on_post : shape (posts, places)
        Whether the place is on the post: at its top or below.
    regular : shape (places,)
        Whether posts have a position there whatever the wires are.
    held : shape (wires, posts, places)
        Whether the wire has a clip or staple there, of its own, on each side that has a line. At least one on every
        post: where it has no other, at its own height.
    lifted : shape (wires, places)
        Whether the wire is lifted to the place, on posts that have it.
    """

    height_m: FloatArray
    on_post: BoolArray
    regular: BoolArray
    held: BoolArray
    lifted: BoolArray

    def lifted_along(self, row: IntArray, intermediate: BoolArray) -> BoolArray:
        """Whether each wire is lifted to each place, post by post along its row, shape (wires, posts, places).

        A wire goes up along the whole row: to a place that is on every intermediate post of it, so that the lowest of
        them decides. On the end posts it stays where it is; in a row of one span it is not lifted.

        Parameters
        ----------
        row : shape (posts,), never falling
            Row of each post.
        intermediate : shape (posts,)
            Which of them are no end posts.
        """
        first, last = first_and_last(row)
        everywhere = np.logical_and.reduceat(self.on_post | ~intermediate[:, None], first, axis=0)
        everywhere &= np.logical_or.reduceat(intermediate, first)[:, None]
        return np.asarray(self.lifted[:, None, :] & np.repeat(everywhere, last - first + 1, axis=0))


def clip_positions(height_out_m: FloatArray, clips: ClipSettings, wires: Sequence[WireSettings]) -> ClipPositions:
    """Places for clips on posts so high, and what each wire has of them.

    Posts have regular positions, from the lowest upwards, as many as fit. They belong to the wire that is lifted
    through them: from its own height up to the next foliage wire's, that one left out, whatever holds that wire, for
    none is lifted past another; those below every foliage wire to the lowest. A wire whose lifts the config names has
    its own height and those instead. A wire held by staples stays where it is unless the config says otherwise, and so
    does a fixed one.

    Wires at 1.2 and 1.5 m, positions at 0.95, 1.20, 1.45 and 1.70 m, posts of 1.9 m: the lower wire has the first
    three and is lifted to 1.45 m, the upper has the last and is lifted to it. On a post of 1.6 m that one is missing:
    the upper wire has a clip at 1.5 m and is not lifted.

    Parameters
    ----------
    height_out_m : shape (posts,)
        Height of each post out of the ground. [m]
    clips : ClipSettings
        Regular positions.
    wires : sequence of WireSettings
        Heights, what holds them, and lifts.
    """
    regular = _whole(clips.lowest_m + clips.spacing_m * np.arange(clips.most))
    named = [_whole([wire.height_m, *(wire.lifts_m or ())]) for wire in wires]
    place = np.unique(np.concatenate([regular, *named]))
    is_regular = np.isin(place, regular)
    on_post = place <= _whole(height_out_m)[:, None]
    foliage = _whole([wire.height_m for wire in wires if wire.kind == "foliage"])
    own, wanted = np.zeros((2, len(wires), len(place)), dtype=np.bool_)
    lifted = np.zeros((len(wires), len(place)), dtype=np.bool_)
    for number, (wire, heights) in enumerate(zip(wires, named, strict=True)):
        own[number] = place == heights[0]
        wanted[number] = own[number]
        if wire.kind == "foliage" and wire.lifts_m is not None:
            wanted[number] = np.isin(place, heights)
        elif wire.kind == "foliage" and wire.holder == "clip":
            above = foliage[foliage > heights[0]].min(initial=np.inf)
            lowest = heights[0] == foliage.min()
            wanted[number] = is_regular & (place < above) & ((place >= heights[0]) | lowest)
        lifted[number] = wanted[number] & ~own[number] & ((place > heights[0]) | (wire.lifts_m is not None))
    held = wanted[:, None, :] & on_post
    held |= ~held.any(axis=2, keepdims=True) & own[:, None, :]
    return ClipPositions(place, on_post, is_regular, held, lifted)


def _whole(height_m: ArrayLike) -> FloatArray:
    """Heights to the millimetre, so that they can be compared as they stand [m]."""
    return np.asarray(np.round(np.asarray(height_m, dtype=np.float64), _DECIMALS), dtype=np.float64)
