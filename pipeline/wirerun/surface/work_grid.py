"""The cells that a survey is worked in, and the tiles that go through memory one by one."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, NamedTuple

from affine import Affine

from wirerun.surface.ground_filter import MARGIN_M

# Choice: with its margin seven million cells of 0.1 m, about a gigabyte on the way; two fifths of the work are margins.
_TILE_CELLS: Final = 2000
_SAMPLE_CELLS: Final = 500
_MOST_SAMPLES: Final = 12
#: Tiles and grids are whole multiples of this many cells.
STEP: Final = 5


class Cells(NamedTuple):
    """Cells of a grid: first row and column, and those behind the last."""

    top: int
    left: int
    bottom: int
    right: int

    @property
    def shape(self) -> tuple[int, int]:
        """Return how many rows and columns."""
        return self.bottom - self.top, self.right - self.left

    def grown(self, by: int) -> "Cells":
        """Return the cells with so many more on each side."""
        return Cells(self.top - by, self.left - by, self.bottom + by, self.right + by)

    def inside(self, other: "Cells") -> tuple[slice, slice]:
        """Return where these cells are in an array of others that hold them."""
        rows = slice(self.top - other.top, self.bottom - other.top)
        return rows, slice(self.left - other.left, self.right - other.left)


@dataclass(frozen=True, slots=True)
class WorkGrid:
    """Square cells over all blocks of a survey.

    `transform` maps (column, row) of cell corners to the CRS; `cell_m` is a cell's side on the ground.
    """

    transform: Affine
    crs_wkt: str
    shape: tuple[int, int]
    cell_m: float

    @property
    def margin(self) -> int:
        """Return the cells round a tile that decide on it."""
        return 2 * STEP * -int(-MARGIN_M / self.cell_m // (2 * STEP))

    def tiles(self, size: int = 0) -> Iterator[Cells]:
        """Go through tiles that cover the grid, without their margins; 0 is the size that the work goes in."""
        rows, columns = self.shape
        size = size or _TILE_CELLS
        for top in range(0, rows, size):
            for left in range(0, columns, size):
                yield Cells(top, left, min(top + size, rows), min(left + size, columns))

    def samples(self) -> list[Cells]:
        """Small tiles all over the grid, the same however it is tiled otherwise."""
        every = list(self.tiles(_SAMPLE_CELLS))
        return every[:: max(1, len(every) // _MOST_SAMPLES)]
