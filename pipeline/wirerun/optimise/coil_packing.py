"""Lines of wire packed on few coils, whatever the order in which they are cut; and how few are possible."""

from bisect import bisect_left, insort
from typing import Final

import numpy as np

from wirerun.mechanics import IntArray
from wirerun.optimise.coil_pieces import Coil, Lines, Pieces

# Stands for a whole coil where part coils are numbered downwards from -1; below all of them.
_WHOLE: Final = -(2**40)


def pack_whole(lines: Lines, group: IntArray, coil: Coil, end_piece_mm: int) -> Pieces:
    """Lines cut whole, each from the fullest coil that still takes it, the longest first; groups share no coil.

    Best fit decreasing takes at most 11/9 of the fewest coils and one; on lines of a vineyard it is mostly at the
    fewest. A line longer than a coil takes whole coils and a rest. Each coil is cut in the order of the lines. Part
    coils are there like others that are begun, for the first group that has a line for them.

    Parameters
    ----------
    lines : Lines
        What to cut.
    group : [line]
        Number of the group of each line; groups need not follow one another.
    coil : Coil
        What to cut from.
    end_piece_mm : int, >= 0
        Shortest rest of a line that is longer than a coil. [mm]

    References
    ----------
    D. S. Johnson, Near-optimal bin packing algorithms, thesis, Massachusetts Institute of Technology, 1973: 11/9
    (not seen; the bound is quoted beside G. Dosa's of 2007, 11/9 and 6/9 of a coil more).
    """
    whole, rest = _parted(lines.length_mm, coil.length_mm, min(end_piece_mm, coil.length_mm // 2))
    of_line = np.zeros(len(lines), dtype=np.int64)
    part: list[int] = []
    # Rooms, and the numbers of their coils; of part coils that have not been begun, -1 less their places.
    store = sorted((size, -1 - place) for place, size in enumerate(coil.parts_mm))
    rooms: list[tuple[int, int]] = []
    order = np.lexsort((np.arange(len(lines)), -rest, group))
    begins = np.diff(group[order], prepend=-1) != 0
    for line, size, begin in zip(order.tolist(), rest[order].tolist(), begins.tolist(), strict=True):
        if begin:
            rooms = store.copy()
        at = bisect_left(rooms, (size, -len(coil.parts_mm) - 1))
        room, number = rooms.pop(at) if at < len(rooms) else (coil.length_mm, _WHOLE)
        if number < 0:
            if number > _WHOLE:
                store.remove((room, number))
            part.append(-1 if number == _WHOLE else -1 - number)
            number = len(part) - 1
        of_line[line] = number
        insort(rooms, (room - size, number))
    return _laid(lines.length_mm, whole, rest, of_line, np.array(part, dtype=np.int64))


def least_coils(length_mm: IntArray, coil_mm: int) -> int:
    """Coils without which lines that are not joined, save those longer than a coil, cannot be cut in any order.

    For every K up to half a coil: lines longer than C - K have a coil each, lines from C/2 to C - K too, and of those
    from K to C/2 at least what does not fit beside the second kind needs more coils (the bound L2).

    Parameters
    ----------
    length_mm : shape (n,), > 0
        Lengths. [mm]
    coil_mm : int, > 0
        Length of a coil, C. [mm]

    References
    ----------
    S. Martello and P. Toth, Lower bounds and reduction procedures for the bin packing problem, Discrete Applied
    Mathematics 28 (1990) 59-70; derived again in the tests.
    """
    by_metres = -(-int(length_mm.sum()) // coil_mm)
    # A line longer than a coil may be parted anywhere: then only metres count.
    if len(length_mm) == 0 or (length_mm > coil_mm).any():
        return by_metres
    size = np.sort(length_mm)
    total = np.concatenate([[0], np.cumsum(size)])
    half = int(np.searchsorted(size, coil_mm // 2, side="right"))
    k = np.concatenate([[0], np.unique(size[:half])])
    alone = np.searchsorted(size, coil_mm - k, side="right")
    from_k = np.searchsorted(size, k, side="left")
    beside = (alone - half) * coil_mm - (total[alone] - total[half])
    more = -((beside - (total[half] - total[from_k])) // coil_mm)
    return max(by_metres, int((len(size) - half + np.maximum(more, 0)).max()))


def _parted(length_mm: IntArray, coil_mm: int, end_piece_mm: int) -> tuple[IntArray, IntArray]:
    """Whole coils of each line, and its rest: all of a line that fits on one."""
    whole = -(-length_mm // coil_mm) - 1
    rest = length_mm - whole * coil_mm
    return whole, np.where(whole > 0, np.maximum(rest, end_piece_mm), rest)


def _laid(length_mm: IntArray, whole: IntArray, rest: IntArray, of_line: IntArray, part: IntArray) -> Pieces:
    """Pieces in the order of the lines, coils numbered as they are begun."""
    pieces = whole + 1
    line = np.repeat(np.arange(len(length_mm)), pieces)
    place = np.arange(len(line)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    is_rest = place == whole[line]
    coil = np.where(is_rest, of_line[line], len(length_mm) + np.arange(len(line)))
    named, first, back = np.unique(coil, return_index=True, return_inverse=True)
    order = np.argsort(first)
    number = np.argsort(order)[back]
    part_of = np.append(part, -1)[np.minimum(named, len(part))][order]
    # The rest that was made longer is taken off the whole coils, evenly.
    shared = length_mm - rest
    cut = np.where(is_rest, rest[line], (shared[line] * (place + 1)) // np.maximum(whole[line], 1))
    cut = cut - np.where(is_rest, 0, (shared[line] * place) // np.maximum(whole[line], 1))
    order = np.argsort(number, kind="stable")
    end = np.empty(len(line), dtype=np.int64)
    run = np.cumsum(cut[order])
    begins = np.flatnonzero(np.diff(number[order], prepend=-1))
    before = np.repeat(run[begins] - cut[order][begins], np.diff(np.append(begins, len(line))))
    end[order] = run - before
    return Pieces(line, number, end - cut, end, part_of)
