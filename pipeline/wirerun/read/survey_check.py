"""Whether the heights of a survey are any, and its check points are where it is: refused where they are not."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from pyproj import Transformer
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import Exit, Faults
from wirerun.geometry.bad_cells import CLIFF_RUN_M, BadCells, ZeroCounts, cliff_limit, cliffs
from wirerun.read.cover import biggest_part
from wirerun.read.points import GivenPoints
from wirerun.read.polygons import place_words
from wirerun.surface.work_grid import Cells, WorkGrid
from wirerun.wording import many, number

# Beyond this nobody wants the distance. [m]
_FAR_M: Final = 1e6


@dataclass(slots=True)
class HeightCheck:
    """Heights of a survey as they go by, tile by tile.

    `given` is the survey's file as the user gave it, `grid` its cells, `of_points` whether it is a point cloud.
    """

    given: str
    grid: WorkGrid
    of_points: bool
    seen: ZeroCounts = field(default_factory=ZeroCounts)
    lowest_m: float = np.inf
    highest_m: float = -np.inf
    largest: float = 0.0
    place: tuple[float, float] = (0.0, 0.0)
    steep: BadCells | None = None
    steep_at: tuple[float, float] = (0.0, 0.0)

    def take(self, cells: Cells, surface_m: FloatArray, looked: BoolArray) -> None:
        """Look a tile over; as soon as zeros are seen to be no heights, the survey ends.

        Parameters
        ----------
        cells : Cells
            The tile.
        surface_m, looked : shape of the tile
            Heights [m], and which of them count.

        Raises
        ------
        InputError
            With the place of the largest patch of zeros so far.
        """
        self.seen = self.seen.plus(surface_m, looked)
        zeros = looked & (surface_m == 0.0)
        others = surface_m[looked & ~zeros]
        if others.size:
            self.lowest_m = min(self.lowest_m, float(others.min()))
            self.highest_m = max(self.highest_m, float(others.max()))
        if zeros.any():
            size, (column, row) = biggest_part(zeros)
            if size > self.largest:
                self.largest, self.place = size, (cells.left + column, cells.top + row)
        if not self.seen.stray:
            return
        area = number(self.seen.zeros * self.grid.cell_m**2, 1)
        advice = "take such points out" if self.of_points else "declare 0 as the raster's no-data number, or fill them"
        faults = Faults()
        faults.add(
            self.given,
            "",
            f"{many(self.seen.zeros, 'cell', 'are')} exactly 0 m high ({area} m2 so far, the biggest part round "
            f"{self._words(self.place)}), the others {self.lowest_m:.1f} to {self.highest_m:.1f} m; {advice}",
        )
        faults.stop_if_any()

    def take_ground(self, cells: Cells, ground_m: FloatArray, inside: BoolArray, known: BoolArray) -> None:
        """Look over the ground that was made of a tile.

        Parameters
        ----------
        cells : Cells
            The tile.
        ground_m, inside, known : shape of the tile
            Heights [m], which cells lie in a block, and which have ground.
        """
        side = self.grid.cell_m
        found = cliffs(ground_m, inside & known, (side, side))
        if found is None:
            return
        count = found.cells + (self.steep.cells if self.steep else 0)
        if self.steep is None or found.worst_m > self.steep.worst_m:
            self.steep, self.steep_at = found, (cells.left + found.column + 0.5, cells.top + found.row + 0.5)
        self.steep = self.steep._replace(cells=count)

    @property
    def cliff(self) -> str:
        """Return what there is to say of ground too steep for a plan; "" where there is none."""
        if self.steep is None:
            return ""
        count, limit = self.steep.cells, cliff_limit(self.grid.cell_m)
        return (
            f"The ground rises or falls by as much as {self.steep.worst_m:.1f} m within {CLIFF_RUN_M:g} m, at "
            f"{self._words(self.steep_at)}; {many(count, 'pair')} of cells {'is' if count == 1 else 'are'} over the "
            f"limit of {limit:g} m, and a plan is refused there: numbers that stand for no height, a fault of the "
            "survey, or a place to keep out (block.exclusions)."
        )

    def _words(self, place: tuple[float, float]) -> str:
        x, y = self.grid.transform * place
        return place_words(*Transformer.from_crs(self.grid.crs_wkt, "EPSG:4326", always_xy=True).transform(x, y))


def refuse_far_points(
    check: GivenPoints, at: FloatArray, areas: Sequence[BaseGeometry], grid: WorkGrid, reach_m: float, faults: Faults
) -> None:
    """Refuse check points of which none lies where ground is made: they are another survey's, or written otherwise.

    Parameters
    ----------
    check, at : GivenPoints, shape (n, 2)
        The points, and where they are in (column, row) of the grid.
    areas : sequence of shapes
        The blocks there.
    grid, reach_m : WorkGrid, float
        The cells, and how far beyond a block ground is made. [m]
    faults : Faults
        Gets the fault.
    """
    if not len(at) or not areas:
        return
    places = shapely.points(np.clip(np.nan_to_num(at, nan=np.inf), -1e12, 1e12))
    far = np.atleast_1d(shapely.distance(shapely.union_all(list(areas)), places)) * grid.cell_m
    nearest = int(np.argmin(far))
    if far[nearest] <= reach_m:
        return
    name = check.names[nearest] or check.places[nearest]
    away = "more than 1000 km" if far[nearest] > _FAR_M else f"{number(far[nearest])} m"
    lon, lat = check.lonlat[nearest].tolist()
    faults.add(
        check.file.given,
        "",
        f"no check point lies in a block or within {reach_m:g} m of one, where ground is made; the nearest is {name}, "
        f"{away} off at {place_words(lon, lat)}: look at the order of the columns and at survey.check_points_crs, or "
        "take survey.check_points out",
    )


def refuse_feet(ratio: float | None, given: str) -> None:
    """Refuse a survey whose ground is as many times as high as its check points as feet are in a metre, or the reverse.

    Parameters
    ----------
    ratio : float or None
        From `feet_among_metres`.
    given : str
        The check points' file as the user gave it.

    Raises
    ------
    InputError
        If there is such a ratio.
    """
    if ratio is None:
        return
    faults = Faults()
    faults.add(
        given,
        "",
        f"the ground of the survey is {ratio:.2f} times as high as its check points: one of the two is in feet; say "
        "which in survey.height_unit, or in survey.check_points_height_unit",
    )
    faults.stop_if_any()


def refuse_without_heights(given: str, boundary: str) -> None:
    """Refuse a survey that has no heights where its blocks lie.

    Raises
    ------
    InputError
        Always, with the exit code of missing elevation.
    """
    faults = Faults()
    faults.add(given, "", f"it has no heights where the blocks of {boundary} lie", Exit.ELEVATION)
    faults.stop_if_any()
