"""Wire cut from coils: lines, coils, the pieces of both, and what they come to. Lengths are whole millimetres."""

from dataclasses import dataclass

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """Lines of one kind of wire in working order, and what a join, a coil carried or a walk costs at each.

    Attributes
    ----------
    length_mm : [line]
        Length to cut. [mm]
    zone : [line]
        Number of the zone; lines of a zone follow one another.
    join_price, carry_price : [line]
        Of a join in the line, and of a coil carried into its zone. [currency]
    beside : [line]
        Whether it may be run out in one walk with the line before it, along the other side of the same posts.
    walk_price : [line]
        Of walking there and back for it alone. [currency]
    """

    length_mm: IntArray
    zone: IntArray
    join_price: FloatArray
    carry_price: FloatArray
    beside: BoolArray
    walk_price: FloatArray

    def __len__(self) -> int:
        return len(self.length_mm)


@dataclass(frozen=True, slots=True)
class Coil:
    """A whole coil: its length [mm] and its price [currency]; and what is left on part coils, paid for already [mm].

    Part coils are begun in the order given, before any whole one.
    """

    length_mm: int
    price: float
    parts_mm: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """Lengths cut from coils, in the order in which they are cut; those of a line follow one another along it.

    Attributes
    ----------
    line : [piece]
        Place of the line on its axis.
    coil : [piece]
        Number of the coil, from 0, in the order in which they are opened.
    from_mm, to_mm : [piece]
        How much has been run off the coil, as it was begun, before and after. [mm]
    part : [coil]
        Which of the part coils it is; -1 where it is a whole one.
    """

    line: IntArray
    coil: IntArray
    from_mm: IntArray
    to_mm: IntArray
    part: IntArray

    def __len__(self) -> int:
        return len(self.line)

    @property
    def coils(self) -> int:
        """Return how many coils are used, part coils among them."""
        return int(self.coil.max(initial=-1)) + 1

    @property
    def whole(self) -> int:
        """Return how many whole coils are used."""
        return int((self.part < 0).sum())

    def begun_mm(self, coil: Coil) -> IntArray:
        """Return what is on each coil when it is begun, [coil] [mm]."""
        sizes = np.array([*coil.parts_mm, coil.length_mm], dtype=np.int64)
        return np.asarray(sizes[self.part])

    @property
    def joins(self) -> int:
        """Return how many joins there are."""
        return len(self) - len(np.unique(self.line))


def refuse_bad_pieces(pieces: Pieces, length_mm: IntArray, coil: Coil, end_piece_mm: int) -> None:
    """Return nothing; refuse pieces that cannot be cut or do not make the lines.

    Parameters
    ----------
    pieces : Pieces
        The pieces, in the order in which they are cut.
    length_mm : shape (lines,)
        What each line must come to. [mm]
    coil : Coil
        What is cut from.
    end_piece_mm : int
        Shortest piece of a joined line. [mm]

    Raises
    ------
    MechanicsError
        If a line is not cut to its length, a coil overruns or is not cut on from where it was, or a piece of a joined
        line is too short; names the first.
    """
    cut = pieces.to_mm - pieces.from_mm
    of_line = np.bincount(pieces.line, weights=cut, minlength=len(length_mm))
    joined = np.bincount(pieces.line, minlength=len(length_mm))[pieces.line] > 1
    order = np.argsort(pieces.coil, kind="stable")
    before = np.append(0, pieces.to_mm[order][:-1])
    goes_on = np.append(-1, pieces.coil[order][:-1]) == pieces.coil[order]
    faults: tuple[tuple[str, IntArray, BoolArray], ...] = (
        ("line {} is not cut to its length", np.arange(len(length_mm)), of_line != length_mm),
        ("coil {} overruns", pieces.coil, pieces.to_mm > pieces.begun_mm(coil)[pieces.coil]),
        (
            "coil {} is not cut on from where it was",
            pieces.coil[order],
            pieces.from_mm[order] != np.where(goes_on, before, 0),
        ),
        ("line {} has a piece that is too short", pieces.line, cut < np.where(joined, end_piece_mm, 1)),
    )
    for sentence, names, bad in faults:
        if bad.any():
            message = f"Cutting in order: {sentence.format(int(names[bad][0]))} (counted from 0)."
            raise MechanicsError(message)


def most_open(pieces: Pieces) -> int:
    """Coils that are open at once: begun, and in use or to be cut from again."""
    if len(pieces) == 0:
        return 0
    change = np.zeros(len(pieces) + 1, dtype=np.int64)
    np.add.at(change, np.unique(pieces.coil, return_index=True)[1], 1)
    last = len(pieces) - 1 - np.unique(pieces.coil[::-1], return_index=True)[1]
    np.add.at(change, last + 1, -1)
    return int(np.cumsum(change).max())


def carried(pieces: Pieces, lines: Lines) -> BoolArray:
    """Whether a piece is the first that a coil gives in its zone, [piece]: for it the coil is carried there."""
    place = lines.zone[pieces.line] * np.int64(pieces.coils) + pieces.coil
    first = np.zeros(len(pieces), dtype=bool)
    first[np.unique(place, return_index=True)[1]] = True
    return first


def most_in_a_zone(pieces: Pieces, lines: Lines) -> int:
    """Coils that one zone is cut from, at most."""
    zones = lines.zone[pieces.line[carried(pieces, lines)]]
    return int(np.unique(zones, return_counts=True)[1].max(initial=0))


def in_one_walk(pieces: Pieces, lines: Lines, open_coils: int) -> BoolArray:
    """Whether a line is run out in one walk with the line before it, [line].

    Both must be whole, each from a coil of its own, and no more than `open_coils` may be begun during the walk.
    """
    whole = np.bincount(pieces.line, minlength=len(lines)) == 1
    together: BoolArray = lines.beside & whole
    together[1:] &= whole[:-1]
    at = np.searchsorted(pieces.line, np.flatnonzero(together))
    begun = np.cumsum(np.bincount(np.unique(pieces.coil, return_index=True)[1], minlength=len(pieces)))
    last = len(pieces) - 1 - np.unique(pieces.coil[::-1], return_index=True)[1]
    used_up = np.cumsum(np.bincount(last, minlength=len(pieces)))
    # Those that gave their last before the first line of the two are no longer open.
    still = begun[at] - np.where(at >= 2, used_up[at - 2], 0)
    together[together] = (pieces.coil[at] != pieces.coil[at - 1]) & (still <= open_coils)
    return together


def spent(pieces: Pieces, lines: Lines, coil: Coil, open_coils: int = 1) -> float:
    """Cost of whole coils, joins, carrying, and of walks that lines beside another take for themselves [currency]."""
    joins = np.bincount(pieces.line, minlength=len(lines)) - 1
    carrying = lines.carry_price[pieces.line[carried(pieces, lines)]]
    walks = lines.walk_price[lines.beside & ~in_one_walk(pieces, lines, open_coils)]
    return coil.price * pieces.whole + float(joins @ lines.join_price) + float(carrying.sum() + walks.sum())
