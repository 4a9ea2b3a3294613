"""Rows given as lines: cleaned, turned the same way, put in order, and cut to the block.

Everything is in plane metres, x east and y north. Which way a set of lines runs is told by its common bearing, and
lines are in order from the left as one looks along it.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import FloatArray
from wirerun.geometry.chains import Chain, Join, chains_of, drawn_through, turned_round
from wirerun.geometry.frame import direction
from wirerun.geometry.lines import Pieces, shorten, to_row_axes
from wirerun.geometry.shapes import lines_of, lines_through

# Choices. Lines closer than this all along are one line drawn twice.
_SAME_M: Final = 0.2
# Cross sections that tell which of two lines lies to the left of the other.
_SECTIONS: Final = 31
# Lines alike across to this are pieces of one row: well below the least spacing of rows.
_ALIKE_M: Final = 0.4
_SMALL_M: Final = 1e-6


@dataclass(frozen=True, slots=True)
class Meeting:
    """Two cleaned lines that cross, touch or overlap: their indices, and a place where they do, in plane metres."""

    first: int
    second: int
    x_m: float
    y_m: float


@dataclass(frozen=True, slots=True)
class Cleaned:
    """Lines fit to be rows, in order from the left, and what was done to them.

    `lines[i]` has shape (n, 2) and is row i + 1; `sources[i]` are the indices of the given lines it is made of, in the
    order in which they follow one another. `bearing_deg` is the common direction, clockwise from north. `duplicates`
    are pairs (left out, kept) of given lines, `reversed` the given lines that run the other way now. `meetings` are
    faults of the lines that nothing was done about.
    """

    lines: tuple[FloatArray, ...]
    sources: tuple[tuple[int, ...], ...]
    bearing_deg: float
    joined: tuple[Join, ...]
    duplicates: tuple[tuple[int, int], ...]
    reversed: tuple[int, ...]
    meetings: tuple[Meeting, ...]


@dataclass(frozen=True, slots=True)
class CutLines:
    """Lines cut to a block.

    `pieces` has the index of each piece's line, and the stations along that line where it starts and ends; `paths` are
    the pieces themselves, shape (n, 2) each. `dropped` pieces were shorter than the least length, `dropped_m` in all.
    `outside` are the lines that do not enter the area, `lost` those that do and have no piece left.
    """

    pieces: Pieces
    paths: tuple[FloatArray, ...]
    dropped: int
    dropped_m: float
    outside: tuple[int, ...]
    lost: tuple[int, ...]


def clean_lines(lines: list[FloatArray], gap_m: float) -> Cleaned:
    """Lines without doubles and small gaps, all running the same way, ordered from the left.

    1. A line that lies within 0.2 m of another over its whole length, drawn either way, is left out; the longer one is
       kept, of equal ones the first.
    2. Lines are joined end to end where the ends are at most `gap_m` apart, the directions of the ends differ by at
       most 15 degrees, and one lies ahead of the other, not beside it: at most 15 degrees off its line, where 0.2 m
       always pass and 0.5 m never. They may overlap by 0.2 m. The nearest ends are joined first; no line is joined to
       itself. Across a gap of up to 2 m the two ends meet half way, so that no kink is left.
    3. The common axis is the mean of the lines' axes from end to end, weighted by length; its sense is the one that
       most metres were drawn in, with equal shares that of the longest line. Lines that run against it are turned.
    4. Of two lines side by side the left one comes first, however they bend. Where that leaves a choice, the order
       goes by the mean distance across, and of lines that are alike in that to 0.4 m, along.

    Parameters
    ----------
    lines : list of arrays of shape (n, 2)
        Simple lines with two ends, in plane metres. [m]
    gap_m : float, >= 0
        Greatest gap that is closed; 0 joins only ends that touch. [m]
    """
    if not lines:
        return Cleaned((), (), 0.0, (), (), (), ())
    duplicates = _duplicates(lines)
    left_out = {index for index, _ in duplicates}
    chains, joined = chains_of(lines, [index for index in range(len(lines)) if index not in left_out], gap_m)
    drawn = [drawn_through(lines, chain) for chain in chains]
    bearing = _common_bearing(lines, chains, drawn)
    along = np.array(direction(bearing))
    turned = [bool((path[-1] - path[0]) @ along < 0.0) for path in drawn]
    chains = [turned_round(chain) if turn else chain for chain, turn in zip(chains, turned, strict=True)]
    paths = [path[::-1].copy() if turn else path for path, turn in zip(drawn, turned, strict=True)]
    order = _from_the_left(paths, bearing)
    ordered = tuple(paths[index] for index in order)
    against = sorted(index for chain in chains for index, forward in chain if not forward)
    return Cleaned(
        ordered,
        tuple(tuple(index for index, _ in chains[place]) for place in order),
        bearing,
        joined,
        duplicates,
        tuple(against),
        _meetings(ordered),
    )


def cut_given(
    lines: list[FloatArray] | tuple[FloatArray, ...],
    margin_area: BaseGeometry,
    area: BaseGeometry,
    headland_start_m: float,
    headland_end_m: float,
    min_length_m: float,
) -> CutLines:
    """Pieces of lines inside a block, ordered by line, then along it.

    Parameters
    ----------
    lines : sequence of arrays of shape (n, 2)
        In plane metres. [m]
    margin_area : Polygon or MultiPolygon
        The workable area less the side margin, in which pieces lie.
    area : Polygon or MultiPolygon
        The workable area, from whose edge the headlands are measured along each line.
    headland_start_m, headland_end_m : float
        Least distance of the start and the end of a piece from the edge, along the line. [m]
    min_length_m : float
        Shorter pieces are dropped and counted. [m]
    """
    within = _inside(lines, area)
    pieces = shorten(_inside(lines, margin_area), within, headland_start_m, headland_end_m)
    length = pieces.end_m - pieces.start_m
    keep = length >= min_length_m
    short = ~keep & (length > 0.0)
    kept = Pieces(pieces.line[keep], pieces.start_m[keep], pieces.end_m[keep])
    paths = [_stretch(lines[i], a, b) for i, a, b in zip(kept.line, kept.start_m, kept.end_m, strict=True)]
    every = np.arange(len(lines))
    entered = np.isin(every, within.line)
    outside, lost = every[~entered], every[entered & ~np.isin(every, kept.line)]
    dropped, dropped_m = int(short.sum()), float(length[short].sum())
    return CutLines(kept, tuple(paths), dropped, dropped_m, tuple(outside.tolist()), tuple(lost.tolist()))


def _duplicates(lines: list[FloatArray]) -> tuple[tuple[int, int], ...]:
    """Return (left out, kept) for each line that lies on a longer one, or on an earlier one of the same length."""
    drawn = lines_of(lines)
    one, other = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=_SAME_M)
    # To the millimetre, so that a line and the same drawn backwards are of one length.
    rank = np.empty(len(lines), np.int64)
    rank[np.lexsort((np.arange(len(lines)), -np.round(shapely.length(drawn), 3)))] = np.arange(len(lines))
    behind = rank[other] < rank[one]
    one, other = one[behind], other[behind]
    # Both ends of a line that lies on another lie on it; where both are straight that is enough.
    for place in (0, -1):
        near = shapely.dwithin(shapely.get_point(drawn, place)[one], drawn[other], _SAME_M)
        one, other = one[near], other[near]
    straight = shapely.get_num_points(drawn) == 2
    lies_on = straight[one] & straight[other]
    bent = np.flatnonzero(~lies_on)
    holders, holder = np.unique(other[bent], return_inverse=True)
    wide = shapely.buffer(drawn[holders], _SAME_M, quad_segs=16)
    lies_on[bent] = shapely.covered_by(drawn[one[bent]], wide[holder])
    one, other = one[lies_on], other[lies_on]
    kept: dict[int, int] = {}
    order = np.lexsort((rank[other], rank[one]))
    for index, holder in zip(one[order].tolist(), other[order].tolist(), strict=True):
        # Longer lines have been decided on before: one that is left out itself takes no other along.
        if holder not in kept:
            kept.setdefault(index, holder)
    return tuple(sorted(kept.items()))


def _common_bearing(lines: list[FloatArray], chains: list[Chain], paths: list[FloatArray]) -> float:
    """Return the direction that most of the lines run in, clockwise from north [deg]."""
    length = shapely.length(lines_of(paths))
    chord = np.array([path[-1] - path[0] for path in paths])
    # An axis and its opposite are the same: angles doubled, they fall together.
    doubled = length * np.exp(2j * np.arctan2(chord[:, 0], chord[:, 1]))
    total = complex(doubled.sum())
    longest = int(length.argmax())
    if abs(total) < _SMALL_M * length.sum():
        total = complex(doubled[longest])
    bearing = math.degrees(np.angle(total) / 2.0)
    axis = np.array(direction(bearing))
    members = [lines[index] for chain in chains for index, _ in chain]
    size = shapely.length(lines_of(members))
    forward = np.array([(line[-1] - line[0]) @ axis for line in members])
    metres = float((np.sign(forward) * size).sum())
    if abs(metres) < _SMALL_M * size.sum():
        metres = float(forward[size.argmax()])
    # Twice, for a hair below 0 comes out of the first as 360.
    return (bearing if metres >= 0.0 else bearing + 180.0) % 360.0 % 360.0


def _from_the_left(paths: list[FloatArray], bearing_deg: float) -> list[int]:
    """Return the order of lines from the left as one looks along the bearing.

    Bent lines have no one distance across; cross sections tell which of two neighbours lies to the left.
    """
    turned = [np.column_stack(to_row_axes(path[:, 0], path[:, 1], bearing_deg)) for path in paths]
    middle = shapely.get_coordinates(shapely.centroid(lines_of(turned)))
    right_of: dict[int, set[int]] = {index: set() for index in range(len(paths))}
    waits_for = dict.fromkeys(range(len(paths)), 0)
    for left, right in _neighbours(turned):
        if right not in right_of[left]:
            right_of[left].add(right)
            waits_for[right] += 1
    order: list[int] = []
    ready = {index for index, count in waits_for.items() if not count}
    while waits_for:
        # Lines that cross may wait for one another; then the order across decides.
        choice = ready or set(waits_for)
        least = min(middle[index, 1] for index in choice)
        alike = [index for index in choice if middle[index, 1] <= least + _ALIKE_M]
        pick = min(alike, key=lambda index: (middle[index, 0], middle[index, 1], index))
        order.append(pick)
        ready.discard(pick)
        del waits_for[pick]
        for right in right_of[pick] & set(waits_for):
            waits_for[right] -= 1
            if not waits_for[right]:
                ready.add(right)
    return order


def _neighbours(turned: list[FloatArray]) -> list[tuple[int, int]]:
    """Return (left, right) for lines that follow one another on a cross section, in (along, across)."""
    drawn = lines_of(turned)
    bounds = shapely.bounds(drawn)
    sections = np.unique(_stations(bounds[:, 0], bounds[:, 2]))
    ends = np.empty((len(sections), 2, 2))
    ends[:, :, 0] = sections[:, None]
    ends[:, :, 1] = (bounds[:, 1].min() - 1.0, bounds[:, 3].max() + 1.0)
    cross = lines_through(ends)
    section, line = shapely.STRtree(drawn).query(cross, predicate="intersects")
    meeting = shapely.bounds(shapely.intersection(cross[section], drawn[line]))
    across = (meeting[:, 1] + meeting[:, 3]) / 2.0
    order = np.lexsort((across, section))
    section, line, across = section[order], line[order], across[order]
    follows = (np.diff(section) == 0) & (np.diff(across) > _SMALL_M)
    return list(zip(line[:-1][follows].tolist(), line[1:][follows].tolist(), strict=True))


def _stations(low: FloatArray, high: FloatArray) -> FloatArray:
    """Return evenly spread stations, and the middle of every line that lies between two of them."""
    even = np.linspace(low.min(), high.max(), _SECTIONS + 2)[1:-1]
    following = np.append(even, np.inf)[np.searchsorted(even, low)]
    missed = following > high
    return np.concatenate([even, (low[missed] + high[missed]) / 2.0])


def _meetings(paths: tuple[FloatArray, ...]) -> tuple[Meeting, ...]:
    drawn = lines_of(paths)
    one, other = shapely.STRtree(drawn).query(drawn, predicate="dwithin", distance=_SAME_M)
    once = one < other
    one, other = one[once], other[once]
    order = np.lexsort((other, one))
    one, other = one[order], other[order]
    places = shapely.get_coordinates(shapely.get_point(shapely.shortest_line(drawn[one], drawn[other]), 0))
    return tuple(map(Meeting, one.tolist(), other.tolist(), *places.T.tolist()))


def _inside(lines: list[FloatArray] | tuple[FloatArray, ...], area: BaseGeometry) -> Pieces:
    """Pieces of lines inside an area by their stations, ordered by line, then along it."""
    drawn = lines_of(lines)
    parts, line = shapely.get_parts(shapely.intersection(drawn, area), return_index=True)
    # A line that only touches leaves points, one that misses an empty line.
    whole = (shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING) & ~shapely.is_empty(parts)
    parts, line = parts[whole], line[whole].astype(np.int64)
    if not len(line):
        return Pieces(np.empty(0, np.int64), np.empty(0), np.empty(0))
    ends = [shapely.line_locate_point(drawn[line], shapely.get_point(parts, place)) for place in (0, -1)]
    low, high = np.minimum(*ends), np.maximum(*ends)
    order = np.lexsort((low, line))
    line, low, high = line[order], low[order], high[order]
    # Where a line touches an edge from within, the library may part it: one piece all the same.
    first = np.concatenate([[True], (np.diff(line) != 0) | (low[1:] - high[:-1] > _SMALL_M)])
    starts = np.flatnonzero(first)
    return Pieces(line[starts], low[starts], np.maximum.reduceat(high, starts))


def _stretch(path: FloatArray, start_m: float, end_m: float) -> FloatArray:
    """Return the part of a line between two stations."""
    station = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    between = station[(station > start_m + _SMALL_M) & (station < end_m - _SMALL_M)]
    wanted = np.concatenate([[start_m], between, [end_m]])
    return np.column_stack([np.interp(wanted, station, path[:, 0]), np.interp(wanted, station, path[:, 1])])
