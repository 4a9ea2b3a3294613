"""What a wire hangs from: stations and heights of the supports of many rows, checked once."""

from dataclasses import InitVar, dataclass, field
from functools import cached_property

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.errors import MechanicsError
from wirerun.mechanics.hull import least_curvature
from wirerun.mechanics.refusals import require_finite
from wirerun.mechanics.row_index import RowIndex


def _kept(values: FloatArray) -> FloatArray:
    """Return a copy that nobody can write to: what was checked stays so."""
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


def _heights(z_m: FloatArray, rows: RowIndex) -> FloatArray:
    z = _kept(z_m)
    if z.shape != rows.ordinal.shape:
        message = f"x_m, z_m and row must be equally long, but z_m has shape {z.shape} and row {rows.ordinal.shape}."
        raise MechanicsError(message)
    if np.isinf(z).any():
        require_finite("Supports", z_m=np.where(np.isnan(z), 0.0, z))
    return z


@dataclass(frozen=True, eq=False)
class Supports:
    """Supports of many rows, one after another, in the order they are walked: of wires, or points of the ground.

    Two rows, of three supports and of two, over a hollow of 0.3 m and on the level:

    >>> supports = Supports(
    ...     np.array([0.0, 6.0, 12.0, 0.0, 5.0]), np.array([0.3, 0.0, 0.3, 1.2, 1.2]), np.array([1, 1, 1, 2, 2])
    ... )
    >>> supports.dx_m.tolist(), supports.rise_m.tolist()
    ([6.0, 6.0, 5.0], [-0.3, 0.3, 0.0])

    Parameters
    ----------
    x_m : shape (n_supports,)
        Station of each along its row: horizontal distance, growing within the row. [m]
    z_m : shape (n_supports,)
        Height of each; NaN where there is none, never infinite. Only differences count. [m]
    row : shape (n_supports,), never falling, or RowIndex
        Row of each.

    Attributes
    ----------
    x_m, z_m : FloatArray
        As given, to be read only. [m]
    rows : RowIndex
        Where the rows lie, and what lies beside what.

    Raises
    ------
    MechanicsError
        If lengths differ, a station is not finite or does not grow, a height is infinite, or ``row`` falls.
    """

    x_m: FloatArray
    z_m: FloatArray
    row: InitVar[IntArray | RowIndex]
    rows: RowIndex = field(init=False)

    def __post_init__(self, row: IntArray | RowIndex) -> None:
        """Check, and keep as arrays that cannot be written to."""
        rows = row if isinstance(row, RowIndex) else RowIndex.of(row)
        x, z = _kept(self.x_m), _heights(self.z_m, rows)
        if x.shape != z.shape:
            message = f"x_m, z_m and row must be equally long, but x_m has shape {x.shape} and row {z.shape}."
            raise MechanicsError(message)
        require_finite("Supports", x_m=x)
        back = x[rows.near + 1] <= x[rows.near]
        if back.any():
            at = int(rows.near[np.flatnonzero(back)[0]]) + 1
            message = f"x_m must grow along a row, but goes from {x[at - 1]:g} to {x[at]:g} m at index {at}."
            raise MechanicsError(message)
        for name, value in (("x_m", x), ("z_m", z), ("rows", rows)):
            object.__setattr__(self, name, value)

    def at_heights(self, z_m: FloatArray) -> "Supports":
        """Supports at the same stations of the same rows and at other heights.

        Parameters
        ----------
        z_m : shape (n_supports,)
            Heights; NaN where there is none. [m]

        Returns
        -------
        Supports
            With the same `RowIndex`.

        Raises
        ------
        MechanicsError
            If there are not as many, or one is infinite.
        """
        # Stations and rows have been checked: they are shared, and so is what follows from them.
        other = object.__new__(Supports)
        vars(other).update(x_m=self.x_m, z_m=_heights(z_m, self.rows), rows=self.rows, dx_m=self.dx_m)
        return other

    def from_middle(self, z_m: FloatArray) -> "Supports":
        """Supports at other heights, the stations counted from the middle of each row.

        Parameters
        ----------
        z_m : shape (n_supports,)
            Heights; NaN where there is none. [m]

        Returns
        -------
        Supports
            With the same `RowIndex`.

        Raises
        ------
        MechanicsError
            If there are not as many, or one is infinite.
        """
        other, rows = object.__new__(Supports), self.rows
        middle = 0.5 * (self.x_m[rows.first] + self.x_m[rows.last])
        vars(other).update(x_m=self.x_m - middle[rows.ordinal], z_m=_heights(z_m, rows), rows=rows)
        other.x_m.setflags(write=False)
        return other

    def repeated(self, times: int) -> "Supports":
        """The same rows again and again, with what is known of them; rows are numbered anew.

        Parameters
        ----------
        times : int, > 0
            How often.

        Returns
        -------
        Supports
            Of so many times the rows.
        """
        other, count = object.__new__(Supports), self.rows.count
        row = (np.arange(times)[:, None] * count + self.rows.ordinal).ravel()
        alike = {name: np.tile(getattr(self, name), times) for name in ("x_m", "z_m", "dx_m", "least_curvature")}
        vars(other).update(alike, rows=RowIndex.of(row))
        return other

    @cached_property
    def dx_m(self) -> FloatArray:
        """Horizontal distance from the near to the far support of each span, shape (n_spans,), > 0 [m]."""
        near = self.rows.near
        return np.asarray(self.x_m[near + 1] - self.x_m[near])

    @cached_property
    def rise_m(self) -> FloatArray:
        """Height of the far support of each span above the near one, shape (n_spans,) [m]; NaN where unknown."""
        near = self.rows.near
        return np.asarray(self.z_m[near + 1] - self.z_m[near])

    @cached_property
    def least_curvature(self) -> FloatArray:
        """Curvature up to which no string over the supports bends over each one, shape (n_supports,) [1/m]."""
        return least_curvature(self.x_m, self.z_m, self.rows.ordinal)

    @cached_property
    def gaps(self) -> BoolArray:
        """Which rows have a support without height, shape (n_rows,)."""
        return self.rows.with_any(np.isnan(self.z_m))
