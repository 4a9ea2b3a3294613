"""End posts that give way under the pull of their wires: a spring in series with each wire.

Both end posts of a row come in by c for every newton that all their lines together pull more, at the height of
each wire alike. A line at tension T then has 2 c (P - P0) more to go, P the pull of all lines and P0 that as strung:
its unstretched length counts as so much more. What the other lines do meanwhile makes P a line's own affair:

- *all at once*, as in the cold: taut lines over the same posts, warmed alike, change by the same strain e, so that
  P - P0 = e sum(EA), T - T0 = e EA, and the spring gives 2 c sum(EA)/EA per newton of the line's own;
- *one wire alone*, as when it is lifted: the others, kept at their length, slacken as the posts come in, by
  k = sum(EA)/L of theirs for every metre, so that the posts give 2 c/(1 + 2 c k) for each newton of the wire's lines.

Left out: sag, which makes a slack line softer than EA/L; and that the posts lean about their foot, so that a high
wire gives more than a low one.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray


class Give(NamedTuple):
    """Ends that give way: a spring in series with the wire, shapes (n_rows,).

    Both ends together come in by ``m_per_n`` times what the tension has grown beyond ``from_n``, so that the wire has
    so much more length to go between them: at tension T its unstretched length counts as L0 + m_per_n (T - from_n).
    Taken along the wire; that the supports at the ends move by it is left out, for it is millimetres.

    Attributes
    ----------
    m_per_n : FloatArray
        At least 0. [m/N]
    from_n : FloatArray
        Tension at which the ends stand where the supports are. [N]
    """

    m_per_n: FloatArray
    from_n: FloatArray

    @classmethod
    def joined(cls, parts: Sequence["Give"]) -> "Give":
        """Rows of several, one after another."""
        return cls(*(np.concatenate([part[value] for part in parts]) for value in range(len(cls._fields))))

    def at(self, tension_n: FloatArray) -> FloatArray:
        """Length that the ends add at a tension, shape (n_rows,) [m]."""
        return np.asarray(self.m_per_n * (tension_n - self.from_n))

    def of(self, row: IntArray | BoolArray | slice) -> "Give":
        """Those of some rows."""
        return Give(self.m_per_n[row], self.from_n[row])


def rigid(count: int) -> Give:
    """Ends that stand, of so many rows.

    >>> rigid(2).at(np.array([100.0, 900.0])).tolist()
    [0.0, 0.0]

    Parameters
    ----------
    count : int
        How many rows.

    Returns
    -------
    Give
        That never gives.
    """
    return Give(np.zeros(count), np.zeros(count))


def give_together(end_m_per_n: float, lines: FloatArray, axial_stiffness_n: FloatArray) -> FloatArray:
    """Give of each wire when all of a row change alike, shape (n_wires,) [m/N].

    One line alone gives at both ends; of two alike, each bears the other's pull too:

    >>> give_together(1e-5, np.array([2.0]), np.array([1e6])).tolist()
    [4e-05]

    Parameters
    ----------
    end_m_per_n : float, >= 0
        How far one end post comes in for a newton of all lines together. [m/N]
    lines : shape (n_wires,)
        Lines of each wire.
    axial_stiffness_n : shape (n_wires,)
        EA of a line. [N]

    Returns
    -------
    FloatArray
        Per newton of one line, shape (n_wires,). [m/N]
    """
    return np.asarray(2.0 * end_m_per_n * (lines * axial_stiffness_n).sum() / axial_stiffness_n)


def give_of_some(
    end_m_per_n: float, lines: FloatArray, axial_stiffness_n: FloatArray, length_m: FloatArray, moving: BoolArray
) -> FloatArray:
    """Give of wires of which some change alike while the others keep their length, shape (n_rows,) [m/N].

    A wire of one line alone; and beside another one of 60 m and 1 MN, which holds the posts back:

    >>> lines, ea, one = np.ones(2), np.full(2, 1e6), np.array([True, False])
    >>> give_of_some(1e-5, lines[:1], ea[:1], np.array([60.0]), one[:1]).round(7).tolist()
    [2e-05]
    >>> give_of_some(1e-5, lines, ea, np.array([60.0]), one).round(7).tolist()
    [1.5e-05]

    Parameters
    ----------
    end_m_per_n, lines, axial_stiffness_n
        As for `give_together`.
    length_m : shape (n_rows,)
        Length of each row. [m]
    moving : shape (n_wires,)
        Which wires change, each line by as many newtons.

    Returns
    -------
    FloatArray
        Per newton of one line of those.
    """
    both = 2.0 * end_m_per_n
    others = (lines * axial_stiffness_n)[~moving].sum() / length_m
    return np.asarray(both * lines[moving].sum() / (1.0 + both * others))
