"""Grounds held back: nothing was chosen by them, so that what is told of the probability may be told of these.

Once something is chosen with their numbers in view, they are drawn anew, with other seeds, before anything is told.

Other shapes than those of `known_grounds`, most of them drawn by chance: waves of many lengths and ways at once,
ground that is rough at every length, banks and tracks aslant, ditches that cross, benches each with ground of its own.
"""

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Shape = Callable[[Array, Array], Array]

#: Seed of the noise on these grounds; the others have another.
SEED: Final = 2007
_WAVES, _SPAN_M = 24, 6.0


def _drawn(seed: int, shortest_m: float, longest_m: float, bend_m: float, steepness: float = 2.0) -> Shape:
    """Waves drawn by chance, the longer the higher; `bend_m` is the rms second difference at spans of 6 m."""
    rng = np.random.default_rng(seed)
    length = np.exp(rng.uniform(np.log(shortest_m), np.log(longest_m), _WAVES))
    way, phase = rng.uniform(0.0, 2.0 * np.pi, (2, _WAVES))
    high = length**steepness
    bends = high * (1.0 - np.cos(2.0 * np.pi * np.cos(way) * _SPAN_M / length))
    high *= bend_m / np.sqrt(2.0 * (bends**2).sum())

    def ground(u: Array, w: Array) -> Array:
        made = 0.07 * u + 0.1 * w
        for one, at, turn, begin in zip(high, length, way, phase, strict=True):
            made = made + one * np.sin(2.0 * np.pi * (u * np.cos(turn) + w * np.sin(turn)) / at + begin)
        return made

    return ground


def _gentle(u: Array, w: Array) -> Array:
    """Waves of 40 m as gentle ones are, but 5 to 15 cm high from place to place."""
    high = 0.10 + 0.05 * np.sin(2.0 * np.pi * (u / 170.0 + w / 130.0))
    return 0.1 * u + high * np.sin(2.0 * np.pi * (u + 0.4 * w) / 40.0)


def _bank(u: Array, w: Array) -> Array:
    """0.8 m within some 2 m, aslant, on ground that rolls a little."""
    return _drawn(121, 40.0, 120.0, 0.02)(u, w) + 0.4 * np.tanh((u - 70.0 - 0.9 * w) / 1.2)


def _track(u: Array, w: Array) -> Array:
    """Cut 0.4 m deep and 4 m wide, with soft edges."""
    off = u - 150.0 + 0.5 * w
    return 0.1 * u + 0.03 * w - 0.2 * (np.tanh((off + 2.0) / 0.5) - np.tanh((off - 2.0) / 0.5))


def _drains(u: Array, w: Array) -> Array:
    """Two ditches that cross, 0.35 m deep and 1.2 m to each side."""
    ways = (u - 0.6 * w - 40.0, u + 0.8 * w - 190.0)
    return 0.06 * u + 0.02 * w - 0.35 * sum(np.exp(-0.5 * (off / 1.2) ** 2) for off in ways)


def _benches(u: Array, w: Array) -> Array:
    """Walls of 0.8 m every three rows, each bench with waves of its own."""
    made, bench = 0.8 * np.floor(w / 7.5), np.floor(w / 7.5)
    for number in np.unique(bench):
        made = made + np.where(bench == number, _drawn(140 + int(number), 25.0, 90.0, 0.08)(u, 0.0 * w), 0.0)
    return made


def _patch(u: Array, w: Array) -> Array:
    """Hummocks in the lower half, next to nothing in the upper."""
    fade = 0.5 * (1.0 - np.tanh((w - 55.0) / 6.0))
    return 0.08 * u + fade * (_drawn(151, 14.0, 30.0, 0.15)(u, w) - 0.07 * u - 0.1 * w)


HELD_BACK: dict[str, Shape] = {
    "even": _drawn(111, 60.0, 200.0, 0.01),
    "gentle2": _gentle,
    "waves": _drawn(112, 25.0, 100.0, 0.10),
    "hummocks": _drawn(113, 12.0, 30.0, 0.12),
    "fractal": _drawn(114, 4.0, 120.0, 0.10, 1.2),
    "bank": _bank,
    "track": _track,
    "drains": _drains,
    "benches": _benches,
    "patch": _patch,
}
