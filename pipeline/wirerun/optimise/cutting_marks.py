"""Groups of runs laid end to end over coils: marks of the pieces, and the test that the cuts can be made."""

from collections.abc import Iterator, Sequence
from itertools import permutations
from typing import Final, NamedTuple

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, IntArray
from wirerun.optimise.cutting_search import Groups

# Orders of the runs of a group that are tried for pieces long enough: all of few runs, some of many. Choices.
_FEW_RUNS: Final = 6
_ORDERS: Final = 720


class Piece(NamedTuple):
    """A piece of wire.

    Attributes
    ----------
    run : int
        Run it belongs to.
    coil : int
        Number of the coil.
    start, end : int
        Marks on the coil. [whole units]
    """

    run: int
    coil: int
    start: int
    end: int


def lay_groups(groups: Groups, sizes: IntArray, coil: int, least_piece: int) -> list[Piece]:
    """Pieces of all runs, in order of coil, then mark; coils are numbered from 0 without gaps.

    Parameters
    ----------
    groups : list of lists
        Runs of each group, those of one coil or those of some coils with joins. Empty ones take no coil.
    sizes : shape (n,), > 0, <= coil
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]
    least_piece : int, >= 0
        Shortest piece of a run that is not whole. [the same units]
    """
    pieces: list[Piece] = []
    for group in groups:
        begin = pieces[-1].coil + 1 if pieces else 0
        pieces.extend(piece._replace(coil=piece.coil + begin) for piece in _lay(group, sizes, coil, least_piece))
    return pieces


def refuse_bad_cuts(pieces: list[Piece], sizes: IntArray, coil: int, least_piece: int) -> None:
    """Return nothing; refuse cuts that cannot be made or do not make the runs.

    Parameters
    ----------
    pieces : list of Piece
        The pieces, in order of coil, then mark.
    sizes : shape (n,), > 0
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]
    least_piece : int, >= 0
        Shortest piece of a run that is not whole. [the same units]

    Raises
    ------
    MechanicsError
        If a run is not cut to its length, a coil overruns, pieces overlap, a piece is too short, or a coil is left out;
        names the first run or coil.
    """
    run, number, start, end = np.array(pieces, dtype=np.int64).reshape(-1, 4).T
    cut = np.zeros(sizes.size, dtype=np.int64)
    np.add.at(cut, run, end - start)
    of_one = np.bincount(run, minlength=sizes.size) == 1
    step = np.diff(number, prepend=-1)
    begin = np.where(step == 0, np.append(0, end[:-1]), 0)
    faults: tuple[tuple[str, IntArray, BoolArray], ...] = (
        ("run {} is not cut to its length", np.arange(sizes.size), cut != sizes),
        ("coil {} does not follow on the one before", number, (step != 0) & (step != 1)),
        ("coil {} overruns", number, end > coil),
        ("coil {} is cut twice at one place or skips some wire", number, start != begin),
        ("run {} has a piece that is too short", run, (end - start < np.where(of_one[run], 1, max(1, least_piece)))),
    )
    for sentence, names, bad in faults:
        if bad.any():
            message = f"Cutting: {sentence.format(names[bad][0])} (counted from 0, longest run first)."
            raise MechanicsError(message)


def _lay(group: list[int], sizes: IntArray, coil: int, least_piece: int) -> list[Piece]:
    """Pieces of a group in the order of its runs that takes fewest coils, then joins, of the orders tried."""
    lengths = sizes[group].tolist()
    fewest = -(-sum(lengths) // coil)
    best: tuple[int, int, list[Piece]] | None = None
    for order in _orders(len(group)):
        pieces = _end_to_end([(group[at], lengths[at]) for at in order], coil, least_piece)
        tried = (pieces[-1].coil + 1 if pieces else 0, len(pieces), pieces)
        if best is None or tried < best:
            best = tried
        if best[0] <= fewest:
            break
    return [] if best is None else best[2]


def _orders(runs: int) -> Iterator[Sequence[int]]:
    if runs <= _FEW_RUNS:
        yield from permutations(range(runs))
    else:
        rng = np.random.default_rng(0)
        yield from (rng.permutation(runs).tolist() for _ in range(_ORDERS))


def _end_to_end(runs: list[tuple[int, int]], coil: int, least_piece: int) -> list[Piece]:
    """Pieces of runs, each with its length, laid one after the other."""
    pieces: list[Piece] = []
    number = at = 0
    for run, size in runs:
        left = size
        if left > coil - at:
            # What is cut off here must not be too short, nor what goes on the next coil.
            piece = min(coil - at, left - least_piece)
            if piece >= max(least_piece, 1):
                pieces.append(Piece(run, number, at, at + piece))
                left -= piece
            number, at = number + 1, 0
        pieces.append(Piece(run, number, at, at + left))
        at += left
    return pieces
