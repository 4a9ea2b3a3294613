"""Grounds whose truth is known: formulas, and cut-outs of a real raster. What is chosen is chosen on these.

Heights by place along the rows, u, and across them, w [m]. Those held back stand in `other_grounds`.
"""

import argparse
from collections.abc import Callable

import numpy as np
import rasterio
from numpy.typing import NDArray
from other_grounds import HELD_BACK, SEED  # type: ignore[import-not-found]

Array = NDArray[np.float64]
Shape = Callable[[Array, Array], Array]

CELL_M = 0.5
SPACING_M, LENGTH_M, ROWS = 2.5, 240.0, 46
# Corners of cut-outs of a raster of 400 x 400 cells, counted from the top and the left; those held back are of the
# raster turned, so that rows run across the others, and lie for the most part elsewhere.
CORNERS = ((60, 60), (150, 90), (230, 120))
TURNED_CORNERS = ((275, 0), (0, 146))


def _waves(height_m: float, length_m: float) -> Shape:
    def ground(u: Array, w: Array) -> Array:
        one = np.sin(2 * np.pi * (u + 0.4 * w) / length_m)
        return 0.1 * u + height_m * one * (1.0 + 0.3 * np.sin(2 * np.pi * w / 90.0))

    return ground


def _gully(u: Array, w: Array) -> Array:
    return 0.12 * u - 2.0 * np.exp(-0.5 * ((u - 120.0 - 0.3 * w) / 9.0) ** 2)


def _narrow(u: Array, w: Array) -> Array:
    ditch = sum(np.exp(-0.5 * ((u - at - 0.2 * w) / 2.0) ** 2) for at in (60.0, 150.0))
    return 0.08 * u + 0.05 * w - 0.5 * ditch


def _steps(u: Array, w: Array) -> Array:
    return 0.05 * u + 0.3 * sum(1.0 + np.tanh((u - at - 0.1 * w) / 0.8) for at in (45.0, 110.0, 175.0))


def _terraces(u: Array, w: Array) -> Array:
    wall = 1.2 * np.floor(w / 5.0)
    return wall + 0.32 * np.sin(2 * np.pi * (u + 7.0 * np.floor(w / 5.0)) / 40.0)


def _half(u: Array, w: Array) -> Array:
    fade = 0.5 * (1.0 + np.tanh((u - 120.0) / 10.0))
    return 0.1 * u + 0.5 * fade * np.sin(2 * np.pi * (u + 0.5 * w) / 42.0)


GROUNDS: dict[str, Shape] = {
    "plane": lambda u, w: 0.12 * u + 0.2 * w,
    "gentle": _waves(0.10, 40.0),
    "rolling": _waves(0.45, 42.0),
    "strong": _waves(1.0, 50.0),
    "gully": _gully,
    "narrow": _narrow,
    "steps": _steps,
    "terraces": _terraces,
    "half": _half,
}


def lidar_cuts(path: str, *, turned: bool) -> dict[str, Array]:
    """Cut-outs of a real raster of 1 m cells."""
    with rasterio.open(path) as raster:
        heights = raster.read(1).astype(np.float64)
    heights = heights.T if turned else heights
    rows, columns = int(ROWS * SPACING_M) + 10, int(LENGTH_M) + 14
    return {
        f"lidar{n}": heights[top : top + rows, left : left + columns]
        for n, (top, left) in enumerate(TURNED_CORNERS if turned else CORNERS, 4 if turned else 1)
    }


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Which grounds: for all benchmarks on grounds whose truth is known."""
    parser.add_argument("--lidar")
    parser.add_argument("--held-back", action="store_true")
    parser.add_argument("--only", nargs="*")


def seed_of(asked: argparse.Namespace) -> int:
    """Seed of the noise."""
    return SEED if asked.held_back else 7


def truths_of(asked: argparse.Namespace) -> dict[str, tuple[Array, float]]:
    """True heights and size of cells of the grounds, with cut-outs of a real raster if there is one."""
    size = (int((ROWS * SPACING_M + 8.0) / CELL_M), int((LENGTH_M + 14.0) / CELL_M))
    w, u = np.meshgrid(*((np.arange(n) + 0.5) * CELL_M for n in size), indexing="ij")
    grounds = HELD_BACK if asked.held_back else GROUNDS
    truths = {name: (ground(u, w), CELL_M) for name, ground in grounds.items()}
    if asked.lidar:
        truths |= {name: (cut, 1.0) for name, cut in lidar_cuts(asked.lidar, turned=asked.held_back).items()}
    return {name: truths[name] for name in asked.only or truths}
