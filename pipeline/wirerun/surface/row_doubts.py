"""Found rows that a person would not take for rows: they cross, run together, bend on the spot, or leave the block."""

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.row_lines import FoundRow

# Choices: rows nearer than this share of their spacing run together; no machine follows a bend of a smaller radius,
# which is looked for over two arms of so many metres; so far and so much of a row may lie outside the block.
_CLOSE_SHARE: Final = 0.5
_LEAST_RADIUS_M, _ARM_M = 5.0, 3.0
_OUTSIDE_M, _OUTSIDE_SHARE = 0.5, 0.05
_LOOSE_M: Final = 0.05  # lines are thinned by this before they are compared


def shape_doubts(rows: Sequence[FoundRow], cell_m: float, spacing_m: float, area: BaseGeometry) -> list[str]:
    """What is odd about each row's shape, in words; "" where nothing is.

    Parameters
    ----------
    rows : sequence of FoundRow
        Of one block, in cells.
    cell_m, spacing_m : float
        Side of a cell, and the distance of the rows. [m]
    area : shape
        The block, in the same cells.
    """
    if not rows:
        return []
    lines = np.array([shapely.LineString(row.cells).simplify(_LOOSE_M / cell_m) for row in rows])
    together = _together(rows, lines, _CLOSE_SHARE * spacing_m / cell_m)
    roomy = area.buffer(_OUTSIDE_M / cell_m)
    shapely.prepare(roomy)
    out = shapely.length(shapely.difference(lines, roomy)) > _OUTSIDE_SHARE * shapely.length(lines)
    made = []
    for row, beside, outside in zip(rows, together, out, strict=True):
        radius = _radius_m(row.cells * cell_m)
        words = [
            *(["crosses another row or runs into it"] if beside else []),
            *([f"bends with a radius under {_LEAST_RADIUS_M:g} m"] if radius < _LEAST_RADIUS_M else []),
            *(["leaves the block"] if outside else []),
        ]
        made.append("; ".join(words))
    return made


def _together(rows: Sequence[FoundRow], lines: NDArray[np.object_], near: float) -> BoolArray:
    """Whether each line comes nearer to one of another row than `near` [cells]."""
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=near)
    number = np.array([row.number for row in rows])
    # Pieces of one row lie end to end; of two lines with one number that lie side by side, or cross, one is wrong.
    apart = (number[one] != number[other]) | ((one != other) & shapely.crosses(lines[one], lines[other]))
    found = np.zeros(len(rows), dtype=bool)
    found[one[apart]] = True
    return found


def _radius_m(places_m: FloatArray) -> float:
    """Least radius of a line's bends, over two arms [m]."""
    steps = np.hypot(*np.diff(places_m, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    middle = along[(along >= _ARM_M) & (along <= along[-1] - _ARM_M)]
    if not len(middle):
        return float("inf")
    before, here, behind = (
        np.column_stack([np.interp(at, along, places_m[:, axis]) for axis in (0, 1)])
        for at in (middle - _ARM_M, middle, middle + _ARM_M)
    )
    arms = [_complex(here - before), _complex(behind - here)]
    turn = float(np.abs(np.angle(arms[1] / arms[0])).max())
    return _ARM_M / max(turn, 1e-9)


def _complex(vectors: FloatArray) -> NDArray[np.complex128]:
    """Vectors (x, y) as complex numbers."""
    return np.asarray(vectors[:, 0] + 1j * vectors[:, 1])
