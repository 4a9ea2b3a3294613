"""How lists of posts and points of the compass read on the sheets; measures are written by `wirerun.units`."""

import re
from itertools import pairwise
from typing import Final

_POINTS: Final = (
    *("N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE"),
    *("S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"),
)
_NUMBER: Final = re.compile(r"\d+$")


def compass(bearing_deg: float) -> str:
    """Return the nearest of the 16 points of the compass."""
    return _POINTS[round(bearing_deg / 22.5) % 16]


def post_number(post_id: str) -> int:
    """Return the number of a post: 7 for B01-R012-P007."""
    found = _NUMBER.search(post_id)
    return int(found.group()) if found else 0


def span_posts(span_id: str) -> str:
    """Return the posts of a span: P007-P008 for B01-R012-S007."""
    first = post_number(span_id)
    return f"P{first:03d}\N{EN DASH}P{first + 1:03d}"


def post_ranges(numbers: list[int]) -> str:
    """Return post numbers as a crew reads them: P003, P007-P010. They must rise."""
    runs: list[list[int]] = []
    for here in numbers:
        if runs and here == runs[-1][-1] + 1:
            runs[-1].append(here)
        else:
            runs.append([here])
    return ", ".join(_run(run) for run in runs)


def _run(run: list[int]) -> str:
    if len(run) < 3:
        return ", ".join(f"P{post:03d}" for post in run)
    return f"P{run[0]:03d}\N{EN DASH}P{run[-1]:03d}"


def thinned(places: list[float], widths: list[float], order: list[int], gap: float) -> list[int]:
    """Return which labels to show: taken in `order`, one is left out where it would come nearer than `gap` to another.

    Parameters
    ----------
    places, widths : list of float
        Middle and width of each label. [mm]
    order : list of int
        Labels that matter most come first; those not in it are left out.
    gap : float
        Least room between two labels. [mm]
    """
    kept: list[int] = []
    for label in dict.fromkeys(order):
        if all(abs(places[label] - places[other]) >= (widths[label] + widths[other]) / 2.0 + gap for other in kept):
            kept.append(label)
    return sorted(kept)


def run_ends(flags: list[bool]) -> list[int]:
    """Return the first and last place of each run of true ones."""
    padded = [False, *flags, False]
    changes = [place for place, (before, after) in enumerate(pairwise(padded)) if before != after]
    return [place for start, end in zip(changes[::2], changes[1::2], strict=True) for place in (start, end - 1)]
