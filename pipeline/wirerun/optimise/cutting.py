"""Runs of wire cut from coils: fewest coils, then fewest joins, and how few of both are proven possible.

Whole runs: bin packing. With joins: runs and coils that share pieces make groups, and a group of k coils laid end to
end needs k - 1 joins and no fewer, so fewest joins are most groups. A run longer than a coil takes whole coils and a
rest, which loses nothing: exchange the wire within its group.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, IntArray
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.optimise.cutting_bounds import least_coils, least_joins
from wirerun.optimise.cutting_marks import Piece, lay_groups, refuse_bad_cuts
from wirerun.optimise.cutting_search import Exchange, Groups, best_fit, full_enough

# Nobody cuts closer than a tenth of a millimetre; a thousandth of that is rounding of the input. Choices.
_TICKS_PER_M: Final = 10_000
_ROUNDING: Final = 1e-3


@dataclass(frozen=True, slots=True, eq=False)
class Cuts:
    """Which piece is cut from which coil, from mark to mark; one entry per piece, in order of coil, then mark.

    Attributes
    ----------
    run : IntArray
        Index of the run the piece belongs to, shape (n_pieces,).
    coil : IntArray
        Number of the coil, from 0, without gaps, shape (n_pieces,).
    from_m, to_m : FloatArray
        Marks on the coil, shape (n_pieces,); each coil is cut from 0 on. [m]
    coils : int
        Coils used.
    least_coils : int
        Coils without which it is proven not to go.
    joins : int
        Joins inside runs.
    least_joins : int
        Joins without which it is proven not to go with so many coils.
    """

    run: IntArray
    coil: IntArray
    from_m: FloatArray
    to_m: FloatArray
    coils: int
    least_coils: int
    joins: int
    least_joins: int


class _Made(NamedTuple):
    """Pieces of the runs by their place in the falling order, and how few coils and joins are possible."""

    pieces: list[Piece]
    least_coils: int
    least_joins: int


def cut_runs(lengths_m: FloatArray, coil_m: float, *, joins: bool, least_piece_m: float = 0.0) -> Cuts:
    """Pieces of wire and the marks between which each is cut from its coil: fewest coils, then fewest joins.

    What is made is the best that a search finds; the bounds tell how far from the best possible it can be at most.
    Lengths are rounded up, the coil down, to a tenth of a millimetre. The same lengths in another order give the same
    coils.

    Parameters
    ----------
    lengths_m : shape (n,), > 0
        Length of each run. [m]
    coil_m : float, > 0
        Length of wire on a coil. [m]
    joins : bool
        Whether a run may be made of pieces from several coils.
    least_piece_m : float, >= 0
        Shortest piece of a run with joins; a run without may be shorter. Where runs cannot be cut so, more coils are
        used. [m]

    Raises
    ------
    MechanicsError
        If a length is not positive; if a run is longer than a coil and may not be joined, or would be joined of pieces
        that are too short: names the first.
    """
    lengths = np.asarray(lengths_m, dtype=np.float64)
    require_positive("Cutting", lengths_m=lengths, coil_m=np.asarray(coil_m, dtype=np.float64))
    require_non_negative("Cutting", least_piece_m=np.asarray(least_piece_m, dtype=np.float64))
    sizes, coil = _up(lengths), int(np.floor(coil_m * _TICKS_PER_M + _ROUNDING))
    least_piece = int(_up(np.asarray(least_piece_m, dtype=np.float64))) if joins else 0
    _refuse_too_long(sizes, coil, least_piece, joins=joins)
    # Lengths that are alike only once rounded up are told apart by their last digits, not by the order they came in.
    order = np.lexsort((-lengths, -sizes))
    made = _joined(sizes[order], coil, least_piece) if joins else _whole(sizes[order], coil)
    refuse_bad_cuts(made.pieces, sizes[order], coil, least_piece)
    run, number, start, end = np.array(made.pieces, dtype=np.int64).reshape(-1, 4).T
    return Cuts(
        run=order[run],
        coil=number,
        from_m=start / _TICKS_PER_M,
        to_m=end / _TICKS_PER_M,
        coils=int(number.max(initial=-1)) + 1,
        least_coils=made.least_coils,
        joins=run.size - sizes.size,
        least_joins=made.least_joins,
    )


def _up(length_m: FloatArray) -> IntArray:
    return np.maximum(np.ceil(length_m * _TICKS_PER_M - _ROUNDING), 0.0).astype(np.int64)


def _refuse_too_long(sizes: IntArray, coil: int, least_piece: int, *, joins: bool) -> None:
    if coil == 0:
        message = f"A coil must be at least {1.0 / _TICKS_PER_M:g} m long."
        raise MechanicsError(message)
    fewest = -(-sizes // coil)
    bad: BoolArray = (fewest > 1) & ((fewest * least_piece > sizes) if joins else True)
    if bad.any():
        first = int(np.flatnonzero(bad)[0])
        length, whole, piece = (ticks / _TICKS_PER_M for ticks in (int(sizes[first]), coil, least_piece))
        how = f"of {whole:g} m in pieces of at least {piece:g} m" if joins else f"of {whole:g} m without joins"
        message = f"Run {first} (counted from 0), {length:g} m long, cannot be cut from coils {how}."
        raise MechanicsError(message)


def _whole(sizes: IntArray, coil: int) -> _Made:
    """Cut falling `sizes` without joins."""
    # All metres, or the k longest runs, of which no coil holds more than of the shortest of them.
    by_count = -(-np.arange(1, sizes.size + 1) // (coil // sizes))
    least = max(-(-int(sizes.sum()) // coil), int(by_count.max(initial=0)))
    fitted = _quickly_fitted(sizes, coil, least)
    exchange = Exchange(sizes, coil, fitted, least)
    if not exchange.fits():
        bound, mixed = least_coils(sizes, coil)
        least = max(least, bound)
        fitted = min(fitted, mixed, key=len)
        while len(exchange.groups) < least or (len(exchange.groups) < len(fitted) and not exchange.fits()):
            exchange.add_coil()
    groups = exchange.groups if len(exchange.groups) < len(fitted) else fitted
    return _Made(lay_groups(groups, sizes, coil, 0), least, 0)


def _quickly_fitted(sizes: IntArray, coil: int, hoped_for: int) -> Groups:
    """Whole runs of each coil without a search, on as few coils as hoped for where one of two ways finds it."""
    fitted = best_fit(sizes, coil)
    return fitted if len(fitted) <= hoped_for else min(fitted, full_enough(sizes, coil, hoped_for), key=len)


def _joined(sizes: IntArray, coil: int, least_piece: int) -> _Made:
    """Cut falling `sizes` with joins: runs longer than a coil take whole coils, their rests go with the others."""
    whole_coils = -(-sizes // coil) - 1
    rests = sizes - whole_coils * coil
    long = np.flatnonzero(whole_coils)
    # A rest that is too short takes some of the whole coils' wire.
    tails = rests.copy()
    tails[long] = np.maximum(rests[long], least_piece)
    order = np.argsort(-tails, kind="stable")
    pieces = _with_joins(tails[order], coil, least_piece)
    pieces = [piece._replace(run=int(order[piece.run])) for piece in pieces]
    used = 1 + max((piece.coil for piece in pieces), default=-1)
    joins = len(pieces) - sizes.size
    fewest = least_joins(-np.sort(-rests), coil, used) if joins else 0
    for run in long.tolist():
        marks = np.linspace(0, sizes[run] - tails[run], whole_coils[run] + 1).astype(np.int64)
        for length in np.diff(marks).tolist():
            pieces.append(Piece(run, used, 0, length))
            used += 1
    return _Made(pieces, -(-int(sizes.sum()) // coil), fewest + int(whole_coils.sum()))


def _with_joins(sizes: IntArray, coil: int, least_piece: int) -> list[Piece]:
    """Cut falling `sizes`, none longer than a coil, with few joins from as few coils as the least piece allows."""
    coils = -(-int(sizes.sum()) // coil)
    fitted = _quickly_fitted(sizes, coil, coils)
    while True:
        exchange = Exchange(sizes, coil, fitted, coils)
        if not exchange.fits():
            # Fewer joins than the bound cannot do: do not search there.
            for _ in range(least_joins(sizes, coil, coils)):
                exchange.join_two()
            while not exchange.fits():
                exchange.join_two()
        pieces = lay_groups(exchange.groups, sizes, coil, least_piece)
        # With as many coils as whole runs were fitted on, nothing is joined: here it ends at the latest.
        if max((piece.coil for piece in pieces), default=-1) < coils:
            return pieces
        coils += 1
