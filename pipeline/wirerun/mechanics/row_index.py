"""Where the rows lie in an array that holds many of them one after another.

All members of all rows (supports, or points of the ground) stand one after another, in the order they are walked;
a number per member says which row it belongs to and never falls. The numbers may have gaps: what is given "one per
row" goes by the order of the rows, not by their numbers.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Self

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.errors import MechanicsError


@dataclass(frozen=True, eq=False)
class RowIndex:
    """Rows of an array: which is whose, where each begins and ends, and what lies beside what. Made by `of`.

    Rows 4, 4, 7, 7, 7 have the ordinals 0, 0, 1, 1, 1, begin at 0 and 2 and end at 1 and 4; spans go from the members
    0, 2 and 3 to the next, and 3 is the only one with a neighbour on both sides.

    >>> rows = RowIndex.of(np.array([4, 4, 7, 7, 7]))
    >>> rows.ordinal.tolist(), rows.first.tolist(), rows.last.tolist()
    ([0, 0, 1, 1, 1], [0, 2], [1, 4])
    >>> rows.near.tolist(), rows.inner.tolist()
    ([0, 2, 3], [3])

    Attributes
    ----------
    number : IntArray
        Number of each member's row, as given; shape (n_members,).
    ordinal : IntArray
        0 for the members of the first row, 1 for the next, whatever their numbers; shape (n_members,).
    first : IntArray
        Index of the first member of each row; shape (n_rows,).
    """

    number: IntArray
    ordinal: IntArray
    first: IntArray

    @classmethod
    def of(cls, row: IntArray) -> Self:
        """Index of the rows that the numbers make.

        Parameters
        ----------
        row : shape (n_members,), whole numbers, never falling
            Which row each member belongs to.

        Raises
        ------
        MechanicsError
            If ``row`` is not one list of whole numbers, or falls somewhere; names the place.
        """
        row = np.asarray(row)
        if row.ndim != 1 or not np.issubdtype(row.dtype, np.integer):
            message = f"row must be one list of whole numbers, but has {row.ndim} dimensions of {row.dtype}."
            raise MechanicsError(message)
        change = np.diff(row)
        if (change < 0).any():
            at = int(np.flatnonzero(change < 0)[0]) + 1
            message = f"row must never fall, but goes from {row[at - 1]} to {row[at]} at index {at}."
            raise MechanicsError(message)
        begins = np.ones(row.size, dtype=np.bool_)
        begins[1:] = change > 0
        return cls(row, np.cumsum(begins) - 1, np.flatnonzero(begins))

    @property
    def size(self) -> int:
        """Number of members."""
        return self.ordinal.size

    @property
    def count(self) -> int:
        """Number of rows."""
        return self.first.size

    @cached_property
    def last(self) -> IntArray:
        """Index of the last member of each row, shape (n_rows,)."""
        return np.append(self.first[1:], self.size) - 1 if self.count else self.first

    @cached_property
    def ends(self) -> BoolArray:
        """First and last member of every row, shape (n_members,)."""
        ends = np.zeros(self.size, dtype=np.bool_)
        ends[self.first] = ends[self.last] = True
        return ends

    @cached_property
    def near(self) -> IntArray:
        """Index of the near member of each span, shape (n_spans,): those whose next is in the same row."""
        return np.flatnonzero(self.ordinal[1:] == self.ordinal[:-1])

    @cached_property
    def inner(self) -> IntArray:
        """Index of each member with a neighbour on both sides in its row, shape (n_inner,)."""
        same: BoolArray = self.ordinal[1:] == self.ordinal[:-1]
        return np.flatnonzero(same[1:] & same[:-1]) + 1

    @cached_property
    def of_span(self) -> IntArray:
        """Row of each span, counted from 0; shape (n_spans,)."""
        return self.ordinal[self.near]

    def per_row(self, name: str, value: FloatLike) -> FloatArray:
        """One value for each row, shape (n_rows,), from one number or one per row.

        Parameters
        ----------
        name : str
            What the value is called, for the message.
        value : one number or shape (n_rows,)
            The number or numbers.

        Returns
        -------
        FloatArray
            Shape (n_rows,).

        Raises
        ------
        MechanicsError
            If there is neither one number nor one per row.
        """
        values = np.asarray(value, dtype=np.float64)
        if values.ndim == 0:
            return np.broadcast_to(values, (self.count,))
        if values.shape != (self.count,):
            message = f"{name} must be one number or one for each of {self.count} rows, but has shape {values.shape}."
            raise MechanicsError(message)
        return values

    def with_any(self, mask: BoolArray) -> BoolArray:
        """Which rows have a member marked, shape (n_rows,).

        Parameters
        ----------
        mask : shape (n_members,)
            Members marked.

        Returns
        -------
        BoolArray
            Shape (n_rows,).
        """
        return np.bincount(self.ordinal, weights=mask, minlength=self.count) > 0


def row_sums(owner: IntArray, values: FloatArray | BoolArray, count: int) -> FloatArray:
    """Sum of each row's values, shape (count,); 0 for a row without any, NaN for one with a NaN.

    Parameters
    ----------
    owner : shape (n,)
        Row of each value, counted from 0.
    values : shape (n,)
        What is summed up, or counted where true.
    count : int
        How many rows there are.

    Returns
    -------
    FloatArray
        Shape (count,).
    """
    return np.asarray(np.bincount(owner, weights=values, minlength=count), dtype=np.float64)
