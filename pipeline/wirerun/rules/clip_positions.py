"""Where clips stand on a post: each is there for a wire that is strung, lifted or parked in it."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.geometry.station import first_and_last
from wirerun.model.clips import ClipPositions
from wirerun.settings import ClipSettings, WireSettings
from wirerun.wording import plural

# Decimals of a metre: two places closer than a millimetre are one, for nobody sets a clip more finely (choice).
_DECIMALS: Final = 3
# A regular position nearer than this share of their spacing to a wire that is moved gives way to it (choice).
_GIVES_WAY: Final = 0.5


def clip_positions(
    height_out_m: FloatArray,
    clips: ClipSettings,
    wires: Sequence[WireSettings],
    row: IntArray,
    intermediate: BoolArray,
) -> ClipPositions:
    """Places for clips on posts so high, and which wire uses them for what.

    Every wire has a clip or staple at its own height. Posts have regular positions, from the lowest upwards, as many as
    fit; one nearer than half their spacing to a wire that is moved gives way to that wire's own. A foliage wire in
    clips is lifted through the regular positions above it, up to the height of the next foliage wire: to that one's own
    clips too, once it has gone up itself; never past a wire, for none is lifted past another. A wire whose lifts the
    config names is lifted to those instead. A wire held by staples stays where it is unless the config says otherwise,
    and so does a fixed one. What no wire uses is not there.

    A wire goes up along the whole row: to a place that is on every intermediate post of it, so that the lowest of them
    decides. On the end posts it stays where it is; in a row of one span it is not lifted.

    Wires at 1.2 and 1.45 m, positions at 0.95, 1.20, 1.45 and 1.70 m, posts of 1.9 m: three clips for each side. The
    upper wire is lifted from 1.45 to 1.70 m, then the lower from 1.20 m into the clip at 1.45 m that has come free;
    0.95 m serves none. On posts of 1.6 m the upper cannot go up, and so neither can the lower.

    Parameters
    ----------
    height_out_m : shape (posts,)
        Height of each post out of the ground. [m]
    clips : ClipSettings
        Regular positions, and where foliage wires are parked in winter.
    wires : sequence of WireSettings
        Heights, what holds them, and lifts.
    row : shape (posts,), never falling
        Row of each post.
    intermediate : shape (posts,)
        Which of them are no end posts.
    """
    own_m = _whole([wire.height_m for wire in wires])
    foliage = np.array([wire.kind == "foliage" for wire in wires], dtype=np.bool_)
    in_clips = np.array([wire.holder == "clip" for wire in wires], dtype=np.bool_)
    moved = foliage & in_clips
    regular = _whole(clips.lowest_m + clips.spacing_m * np.arange(clips.most))
    apart = np.abs(regular[:, None] - own_m[moved])
    kept = regular[~((apart > 0.0) & (apart < _GIVES_WAY * clips.spacing_m)).any(axis=1)]
    named = [_whole(wire.lifts_m or ()) for wire in wires]
    parked = _whole([] if clips.winter_m is None else [clips.winter_m])
    place = np.unique(np.concatenate([kept, own_m, *named, parked]))
    everywhere = _along(place <= _whole(height_out_m)[:, None], row, intermediate)

    strung = place == own_m[:, None]
    lifted, lent = np.zeros((2, len(wires), len(row), len(place)), dtype=np.bool_)
    for wire in np.argsort(-own_m, kind="stable"):  # the higher ones first: they make room
        if not foliage[wire]:
            continue
        above = own_m[foliage & (own_m > own_m[wire])].min(initial=np.inf)
        if wires[wire].lifts_m is not None:
            goes = np.isin(place, named[wire]) & ~strung[wire]
        else:
            makes_room = bool(moved[foliage & (own_m == above)].all())
            goes = (np.isin(place, kept) & (place < above)) | ((place == above) & makes_room)
            goes &= (place > own_m[wire]) & in_clips[wire]
        lifted[wire] = goes & everywhere
        for taken in np.flatnonzero(goes & strung[moved].any(axis=0)):
            away = lifted[moved & strung[:, taken]][..., taken + 1 :].any(axis=-1).all(axis=0)
            if wires[wire].lifts_m is None:
                lifted[wire, :, taken] &= away
            lent[wire, :, taken] = lifted[wire, :, taken] & away & in_clips[wire]

    winter = moved[:, None, None] & np.isin(place, parked) & everywhere
    # All lines of a side hang in one clip; wires of one height are on two sides, each with a clip of its own.
    lowest = own_m == own_m[moved][:1].min(initial=np.inf)
    lent |= winter & ~lowest[:, None, None]
    strung = np.broadcast_to(strung[:, None, :], lifted.shape)
    used = (strung | lifted | winter)[:, intermediate].any(axis=(0, 1))
    fits = (place <= _whole(height_out_m)[intermediate].max(initial=0.0)) & np.isin(place, kept)
    return ClipPositions(place, strung, lifted, winter, lent, place[fits & ~used])


def note_unused(places: ClipPositions, notes: Findings) -> None:
    """Say which regular positions serve no wire."""
    if len(places.unused_m):
        notes.note(
            "unused-positions",
            f"No wire uses the clip {plural(len(places.unused_m), 'position')} at "
            f"{', '.join(f'{height:.2f}' for height in places.unused_m)} m; no clip is bought for it.",
        )


def _along(on_post: BoolArray, row: IntArray, intermediate: BoolArray) -> BoolArray:
    """Whether a place is on every intermediate post of the row, and there is one; shape (posts, places)."""
    if not len(row):
        return on_post
    first, last = first_and_last(row)
    everywhere = np.logical_and.reduceat(on_post | ~intermediate[:, None], first, axis=0)
    everywhere &= np.logical_or.reduceat(intermediate, first)[:, None]
    return np.repeat(everywhere, last - first + 1, axis=0)


def _whole(height_m: ArrayLike) -> FloatArray:
    """Heights to the millimetre, so that they can be compared as they stand [m]."""
    return np.asarray(np.round(np.asarray(height_m, dtype=np.float64), _DECIMALS), dtype=np.float64)
