"""The scenes of `bench_survey.py`: one set to choose the filter's numbers by, another to report what they are worth.

Each kind of scene is drawn anew for each seed: its ground, where on the real ground it lies, bearing, spacing,
canopies, gaps, grass, noise. The two sets share no seed and no piece of real ground.
"""

import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import rasterio
from numpy.typing import NDArray
from scipy.ndimage import map_coordinates
from survey_scenes import Rows, Scene, made_ground, make_scene

FloatArray = NDArray[np.float64]
Ground = Callable[[FloatArray, FloatArray], FloatArray]

_WIDE, _LOW = {"canopy_m": 1.1, "high_m": 1.6}, {"canopy_m": 0.45, "high_m": 0.9}
_FINE = {"cell_m": 0.05, "wide_m": 70.0, "high_m": 60.0}
# Name, slope of made ground or None for real, spacing, more of the rows, more of the scene. Choices.
_ASKED: tuple[tuple[str, float | None, float, dict[str, float], dict[str, float]], ...] = (
    ("made, 16 %", 0.16, 2.4, {}, {}),
    ("made, 40 %, wide canopy", 0.4, 2.4, _WIDE, {}),
    ("made, 25 %, arcs of 120 m", 0.25, 2.4, {"radius_m": 120.0}, {}),
    ("made, low vines, noise 4 cm", 0.3, 1.8, _LOW, {"noise_m": 0.04}),
    ("made, cover of 0.6 m", 0.2, 2.5, {"cover_m": 0.6}, {}),
    ("real ground, straight", None, 2.2, {}, {"noise_m": 0.02}),
    ("real ground, arcs of 200 m", None, 2.6, {"radius_m": 200.0}, {}),
    ("made, 35 %, cells of 5 cm", 0.35, 2.1, {}, _FINE),
    ("real ground, cells of 5 cm", None, 2.5, {"canopy_m": 0.9}, {**_FINE, "noise_m": 0.02}),
)
_BESIDE: tuple[tuple[str, float | None, float, dict[str, float], dict[str, float]], ...] = (
    ("grass 10 cm, berms 12 cm", 0.25, 2.4, {}, {"grass_m": 0.1, "berm_m": 0.12}),
    ("grass 10 cm", 0.25, 2.4, {}, {"grass_m": 0.1}),
    ("bare alleys", 0.25, 2.4, {}, {"grass_m": 0.0}),
    ("slope 60 %", 0.6, 2.0, {}, {}),
    ("gaps of 30 %", 0.25, 2.4, {}, {"gaps": 0.3}),
)
#: Seeds to choose by, and to report by.
CHOOSING, REPORTING = (101, 102, 103), (1, 2, 3)
# Corners on the lidar raster [m], from its south-west.
_CHOOSING_CORNERS = ((20.0, 250.0), (280.0, 40.0), (150.0, 290.0))
_REPORTING_CORNERS = ((60.0, 80.0), (230.0, 200.0), (120.0, 170.0))


class Case(NamedTuple):
    """A scene, and whether the goals are for it: others are told beside it."""

    name: str
    seed: int
    scene: Scene
    in_goals: bool
    told_grass_m: float


@cache
def _lidar() -> FloatArray:
    """Return the real 1 m bare-earth raster in the wheel of lidar 0.8.4, which is read as a zip file [m]."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "-q", "--no-deps", "--only-binary", ":all:", "lidar==0.8.4"]
        subprocess.run([*command, "-d", folder], check=True)  # noqa: S603 - the words above
        wheel = next(Path(folder).glob("lidar-*.whl"))
        with zipfile.ZipFile(wheel) as packed:
            whole = packed.read("lidar/data/dem.tif")
    with rasterio.MemoryFile(whole) as memory, memory.open() as raster:
        return np.asarray(raster.read(1), dtype=np.float64)


def real_ground(corner: tuple[float, float]) -> Ground:
    """Return the lidar raster from a corner on (metres from its own), cubic between its cells."""
    heights = _lidar()

    def height(x: FloatArray, y: FloatArray) -> FloatArray:
        at = np.stack([heights.shape[0] - corner[1] - y, corner[0] + x])
        return np.asarray(map_coordinates(heights, at, order=3))

    return height


def cases(seeds: tuple[int, ...] = REPORTING) -> Iterator[Case]:
    """Yield the scenes of a set, one by one; those beside the goals for the first seed only."""
    corners = _CHOOSING_CORNERS if set(seeds) <= set(CHOOSING) else _REPORTING_CORNERS
    for number, (name, slope, spacing, of_rows, more) in enumerate((*_ASKED, *_BESIDE)):
        for which, seed in enumerate(seeds if number < len(_ASKED) else seeds[:1]):
            rng = np.random.default_rng([seed, number])
            rows = Rows(spacing * rng.uniform(0.95, 1.05), rng.uniform(0.0, 180.0), **of_rows)
            own = int(rng.integers(1 << 30))
            ground = made_ground(slope, own) if slope is not None else real_ground(corners[which % len(corners)])
            options: dict[str, Any] = dict(more)
            scene = make_scene(ground, rows, seed=own, **options)
            yield Case(name, seed, scene, number < len(_ASKED), float(more.get("grass_m", 0.04)))
