"""Curves at one exact distance from a line, on one side of it.

Such a curve is made of elements: each segment of the line moved sideways, and an arc round each corner that bulges
towards the side. A place on an element belongs to the curve unless some other part of the line is nearer; where that
is so, `nearer` says exactly: no sampling, and no buffers (a buffer library may simplify a line by a hundredth of the
distance, one metre at 100 m).

Each element is worked out in axes of its own: u along the segment as one walks, n square to it towards the side. They
are mirrored on the left, so that one set of formulas serves both sides.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from wirerun.arrays import FloatArray, IntArray
from wirerun.geometry.nearer import FLAT_M, blocked_on_arc, blocked_on_line, least_for_arcs, least_for_lines

# A bend of the curve from this on is a kink that a person should know of; less is how the line was drawn. *Choice*.
KINK_DEG: Final = 10.0

# Two stretches of a curve that end this close to each other are one: far above rounding, far below a post. [m]
_JOIN_M: Final = 1e-3
# Where two parts of the line face each other and a curve runs exactly midway, both have it as theirs. The earlier part
# keeps it: the later gives way if it is ahead by no more than this. [m]
_TIE_M: Final = 1e-6
# Elements looked at together when the pairs are found: keeps the matrices to some tens of megabytes.
_CHUNK: Final = 256
_PAIRS_AT_ONCE: Final = 250_000
# Choice: a kilometre of guide with a corner every half metre has fewer; more would fill the memory.
MOST_PAIRS: Final = 3_000_000


class TooManyCornersError(ValueError):
    """A line so rich in corners that near the area more pairs of its parts than `MOST_PAIRS` vie for the ground."""


class Level(NamedTuple):
    """The curve at one distance: its unbroken stretches, its kinks, and what had to go.

    Attributes
    ----------
    lines : list of shape (n, 2)
        Vertices of each stretch in walking direction. [m]
    kink_xy : shape (k, 2)
        Where the curve bends by `KINK_DEG` or more because the line is tighter than the distance. [m]
    kink_turn_deg : shape (k,)
        By how much. [deg]
    lost : array of LineString
        Parts of the moved segments that are no curve because another part of the line is nearer, gentle bends apart.
    """

    lines: list[FloatArray]
    kink_xy: FloatArray
    kink_turn_deg: FloatArray
    lost: NDArray[np.object_]


class _Stretches(NamedTuple):
    """Unbroken stretches of elements: which element, and from where to where (metres, or radians on an arc)."""

    element: IntArray
    start: FloatArray
    end: FloatArray


@dataclass(frozen=True)
class _Pairs:
    """Elements and segments that may come nearer to them, in order of the least distance at which they can.

    `near`, `far`: the segment's ends in the element's axes, shape (p, 2) [m]; `yields`: the element gives way to it in
    a tie.
    """

    element: IntArray
    least_m: FloatArray
    near: FloatArray
    far: FloatArray
    yields: NDArray[np.bool_]


class Side:
    """One side of a line, ready to give the curve at any distance.

    Parameters
    ----------
    xy : shape (v, 2)
        Vertices of a line that does not touch itself, no two equal in a row. [m]
    right : bool
        Which side, as one walks along the line.
    bounds : (west, south, east, north)
        Where curves are wanted; elements that lie wholly outside are left out. [m]
    most_m : float
        Greatest distance that will be asked for. [m]
    """

    def __init__(
        self, xy: FloatArray, bounds: tuple[float, float, float, float], most_m: float, *, right: bool
    ) -> None:
        step = np.diff(xy, axis=0)
        length = np.hypot(step[:, 0], step[:, 1])
        along = step / length[:, None]
        across = np.column_stack([along[:, 1], -along[:, 0]]) * (1.0 if right else -1.0)
        # Positive where the line turns away from the side: there the curve runs round the corner on an arc.
        bend = np.arctan2(-np.sum(along[1:] * across[:-1], axis=1), np.sum(along[1:] * along[:-1], axis=1))
        segment = np.arange(len(length))
        corner = np.flatnonzero(bend > 0.0)
        order = np.argsort(np.concatenate([2 * segment, 2 * corner + 1]))
        self._is_arc = np.repeat([False, True], [len(segment), len(corner)])[order]
        # An arc goes by the axes of the segment before its corner.
        self._segment = np.concatenate([segment, corner])[order]
        self._size = np.concatenate([length, bend[corner]])[order]
        self._origin = np.concatenate([xy[:-1], xy[corner + 1]])[order]
        self._u, self._n = along[self._segment], across[self._segment]
        # One rising axis for all elements, with a gap between them.
        self._base = np.concatenate([[0.0], np.cumsum(self._size + 1.0)[:-1]])
        station = np.concatenate([[0.0], np.cumsum(length)])
        self._station = np.concatenate([station[:-1], station[corner + 1]])[order]
        self._alive = np.ones(len(order), dtype=np.bool_)
        self._bounds = bounds
        self._most_m = most_m
        ever = self._in_bounds(0.0, most_m)
        self._count = 0
        self._line_pairs = self._pairs(xy, np.flatnonzero(ever & ~self._is_arc))
        self._arc_pairs = self._pairs(xy, np.flatnonzero(ever & self._is_arc))

    def at(self, distance_m: float, chord_m: float) -> Level:
        """Curve at a distance, its arcs drawn as chords that leave them by at most `chord_m` [m].

        Distances must be asked for in rising order: what is lost at one distance is lost at all greater ones, and is
        not looked at again.
        """
        here = self._in_bounds(distance_m, distance_m)
        free = self._free(here & self._alive, distance_m)
        served = np.zeros(len(here), dtype=np.bool_)
        served[free.element] = True
        self._alive &= served | ~here
        start, end = self._place(free.element, free.start, distance_m), self._place(free.element, free.end, distance_m)
        following = _joins(start, end)
        before = np.flatnonzero(following >= 0)
        after = following[before]
        turn = self._turn(free, before, after)
        sharp = turn >= KINK_DEG
        gentle = np.column_stack([self._feet(free, free.end)[before], self._feet(free, free.start)[after]])[~sharp]
        return Level(
            self._draw(free, following, distance_m, chord_m),
            end[before[sharp]],
            turn[sharp],
            self._lost(here, free, gentle, distance_m),
        )

    def _place(self, element: IntArray, at: FloatArray, distance_m: float) -> FloatArray:
        """Positions on elements, shape (n, 2) [m]."""
        arc = self._is_arc[element]
        angle = np.where(arc, at, 0.0)
        along = np.where(arc, distance_m * np.sin(angle), at)
        across = distance_m * np.cos(angle)
        shift = along[:, None] * self._u[element] + across[:, None] * self._n[element]
        return np.asarray(self._origin[element] + shift)

    def _feet(self, free: _Stretches, at: FloatArray) -> FloatArray:
        """Station along the line of the points nearest to places on elements [m]."""
        return self._station[free.element] + np.where(self._is_arc[free.element], 0.0, at)

    def _turn(self, free: _Stretches, before: IntArray, after: IntArray) -> FloatArray:
        """Turn of the curve where one stretch goes over into the next [deg]."""

        def heading(of: IntArray, at: FloatArray) -> FloatArray:
            element = free.element[of]
            angle = np.where(self._is_arc[element], at[of], 0.0)
            return np.asarray(np.cos(angle)[:, None] * self._u[element] - np.sin(angle)[:, None] * self._n[element])

        come, go = heading(before, free.end), heading(after, free.start)
        cross = come[:, 0] * go[:, 1] - come[:, 1] * go[:, 0]
        return np.asarray(np.degrees(np.abs(np.arctan2(cross, np.sum(come * go, axis=1)))))

    def _in_bounds(self, least_m: float, most_m: float) -> NDArray[np.bool_]:
        """Elements that may meet the bounds at some distance from least to most."""
        every = np.arange(len(self._size))
        marks = [self._place(every, self._size * part, d) for part in (0.0, 0.5, 1.0) for d in (least_m, most_m)]
        # Half an arc leaves its chord by no more than this.
        bulge = np.where(self._is_arc, most_m * (1.0 - np.cos(self._size / 4.0)), 0.0)[:, None]
        # What makes room for a gentle bend reaches this far from it: with the bend in sight it is known as such.
        bulge += most_m * np.tan(np.radians(KINK_DEG / 2.0))
        low, high = np.min(marks, axis=0) - bulge, np.max(marks, axis=0) + bulge
        inside = (low <= self._bounds[2:]) & (high >= self._bounds[:2])
        return np.asarray(inside.all(axis=1))

    def _pairs(self, xy: FloatArray, elements: IntArray) -> _Pairs:
        """Every pair of one of the elements and a segment that can come nearer to it at a distance asked for."""
        found: list[tuple[IntArray, FloatArray, FloatArray, FloatArray, NDArray[np.bool_]]] = []
        segment = np.arange(len(xy) - 1)
        for some in np.array_split(elements, len(elements) // _CHUNK + 1):
            local = xy[None] - self._origin[some][:, None]
            x = np.einsum("evk,ek->ev", local, self._u[some])
            y = np.einsum("evk,ek->ev", local, self._n[some])
            arc, size = self._is_arc[some][:, None], self._size[some][:, None]
            least = np.where(arc, least_for_arcs(x, y, size), least_for_lines(x, y, size))
            # What the element springs from touches it and is never nearer.
            own = segment[None] - self._segment[some][:, None]
            least[(own == 0) | (arc & (own == 1))] = np.inf
            e, s = np.nonzero(least < self._most_m + _TIE_M)
            self._count += len(e)
            if self._count > MOST_PAIRS:
                raise TooManyCornersError
            ends = [np.column_stack([x[e, s + k], y[e, s + k]]) for k in (0, 1)]
            found.append((some[e], least[e, s], *ends, (own[e, s] < 0) & (ends[1][:, 0] < ends[0][:, 0])))
        element, least, near, far, yields = (np.concatenate(part) for part in zip(*found, strict=True))
        order = np.argsort(least, kind="stable")
        return _Pairs(element[order], least[order], near[order], far[order], yields[order])

    def _free(self, wanted: NDArray[np.bool_], distance_m: float) -> _Stretches:
        """Stretches of the wanted elements to which no other part of the line is nearer, in walking order."""
        # What is not wanted, and the gaps between elements, are blocked to begin with.
        low = [self._base - 1.0]
        high = [self._base + np.where(wanted, 0.0, self._size)]
        for pairs, laps in ((self._line_pairs, (0.0,)), (self._arc_pairs, (-2.0 * np.pi, 0.0, 2.0 * np.pi))):
            below = np.arange(np.searchsorted(pairs.least_m, distance_m + _TIE_M))
            of_wanted = below[wanted[pairs.element[below]]]
            for some in np.array_split(of_wanted, len(of_wanted) // _PAIRS_AT_ONCE + 1):
                near, far = pairs.near[some], pairs.far[some]
                if pairs is self._line_pairs:
                    reach_m = np.where(pairs.yields[some], distance_m + _TIE_M, distance_m)
                    start, end = blocked_on_line(near, far, distance_m, reach_m)
                else:
                    start, end = blocked_on_arc(near, far, distance_m)
                base, size = self._base[pairs.element[some]], self._size[pairs.element[some]]
                for lap in laps:
                    meets = (end + lap > 0.0) & (start + lap < size) & (end > start)
                    low.append(base[meets] + np.maximum(start[meets] + lap, 0.0))
                    high.append(base[meets] + np.minimum(end[meets] + lap, size[meets]))
        begin, finish = np.concatenate(low), np.concatenate(high)
        order = np.argsort(begin, kind="stable")
        done = np.maximum.accumulate(finish[order])
        begin = np.append(begin[order][1:], self._base[-1] + self._size[-1])
        gap = begin - done > FLAT_M
        element = np.searchsorted(self._base, done[gap], side="right") - 1
        return _Stretches(element, done[gap] - self._base[element], begin[gap] - self._base[element])

    def _draw(self, free: _Stretches, following: IntArray, distance_m: float, chord_m: float) -> list[FloatArray]:
        """Vertices of every chain of stretches."""
        widest = 2.0 * np.arccos(max(1.0 - chord_m / distance_m, 0.0))
        arc = self._is_arc[free.element]
        count = np.where(arc, np.ceil((free.end - free.start) / widest - 1e-9), 1.0).astype(np.int64) + 1
        count = np.maximum(count, 2)
        which = np.repeat(np.arange(len(count)), count)
        first = np.cumsum(count) - count
        part = (np.arange(len(which)) - first[which]) / (count - 1)[which]
        at = free.start[which] + part * (free.end - free.start)[which]
        xy = self._place(free.element[which], at, distance_m)
        lines = []
        for chain in _chains(following):
            line = np.concatenate([xy[first[k] : first[k] + count[k]] for k in chain])
            step = np.hypot(*np.diff(line, axis=0).T)
            # Where two stretches meet both have a vertex.
            keep = np.concatenate([[True], step > 1e-6])
            keep[-1] = True
            if following[chain[-1]] == chain[0]:
                # A ring closes to the last digit.
                line[-1] = line[0]
            if keep.sum() > 1 and step.sum() > _JOIN_M:
                lines.append(line[keep])
        return lines

    def _lost(
        self, here: NDArray[np.bool_], free: _Stretches, gentle: FloatArray, distance_m: float
    ) -> NDArray[np.object_]:
        """Parts of moved segments that are no curve, without those that only make room for a gentle bend."""
        line = ~self._is_arc & here
        starts, ends = self._base[free.element] + free.start, self._base[free.element] + free.end
        edges = np.unique(np.concatenate([self._base[line], (self._base + self._size)[line], starts, ends]))
        if not len(edges):
            return np.empty(0, dtype=object)
        middle = (edges[:-1] + edges[1:]) / 2.0
        element = np.searchsorted(self._base, middle, side="right") - 1
        at = middle - self._base[element]
        # Starts and ends take turns, so a place is free where more have started than ended.
        taken = np.searchsorted(starts, middle) == np.searchsorted(ends, middle)
        taken &= line[element] & (at < self._size[element]) & (np.diff(edges) > _JOIN_M)
        foot = self._station[element] + at
        gentle = gentle[np.argsort(gentle[:, 0], kind="stable")]
        opened = np.searchsorted(gentle[:, 0], foot)
        reach = np.concatenate([[-np.inf], np.maximum.accumulate(gentle[:, 1])])
        taken &= reach[opened] < foot
        some = np.flatnonzero(taken)
        ends_xy = [self._place(element[some], edges[some + k] - self._base[element[some]], distance_m) for k in (0, 1)]
        return np.asarray(shapely.linestrings(np.stack(ends_xy, axis=1)), dtype=object)


def _joins(start: FloatArray, end: FloatArray) -> IntArray:
    """Index of the stretch that goes on where each one ends, -1 where the curve ends, shape (n,)."""
    count = len(start)
    following = np.full(count, -1, dtype=np.int64)
    if not count:
        return following
    straight_on = np.hypot(*(end[:-1] - start[1:]).T) < _JOIN_M
    following[:-1][straight_on] = np.flatnonzero(straight_on) + 1
    # Where the line narrows to a neck, the curve leaves out a part of the line and goes on behind it.
    ends = np.flatnonzero(following < 0)
    starts = np.flatnonzero(np.concatenate([[True], ~straight_on]))
    away = np.hypot(*(end[ends][:, None] - start[starts][None]).transpose(2, 0, 1))
    for e, s in np.argwhere(away < _JOIN_M):
        if away[e, s] == away[e].min() == away[:, s].min():
            following[ends[e]] = starts[s]
            away[e], away[:, s] = np.inf, np.inf
    return following


def _chains(following: IntArray) -> list[list[int]]:
    """Stretches joined to chains, in walking order, the chains by their first stretch; a ring ends at its start."""
    left = np.ones(len(following), dtype=np.bool_)
    heads = np.ones(len(following), dtype=np.bool_)
    heads[following[following >= 0]] = False
    chains = []
    for head in [*np.flatnonzero(heads).tolist(), *range(len(following))]:
        chain, at = [], head
        while at >= 0 and left[at]:
            left[at] = False
            chain.append(at)
            at = int(following[at])
        if chain:
            chains.append(chain)
    return sorted(chains)
