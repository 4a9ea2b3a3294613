"""Runs of wire put into groups that each fit on their coils: best fit, and a search that exchanges runs.

A group is one coil, or several laid end to end. All lengths are whole numbers, so that nothing is decided by
rounding; the search draws from a generator with a fixed seed and stops after a number of exchanges, not of seconds.
"""

from bisect import bisect_left, insort
from itertools import combinations
from typing import Final

import numpy as np

from wirerun.mechanics import IntArray

# Choices, by measurement: exchanges before a search gives up, groups looked at for one exchange, runs of a large group
# of which pairs are formed, moves that are weighed, for how many exchanges a run that moved stays (from, below); and
# cells of a coil that is filled.
_EXCHANGES: Final = 3000
_CELLS: Final = 2**16
_PARTNERS: Final = 160
_PAIRED: Final = 16
_WEIGHED: Final = 32
_STAY: Final = (3, 10)
# Length of what is no set of runs: no exchange with it looks good.
_NO_SET: Final = 2**50

Set = tuple[int, ...]
Groups = list[list[int]]


def best_fit(sizes: IntArray, coil: int) -> Groups:
    """Runs of each coil, each run put on the fullest coil that still takes it, or else on a new one.

    Parameters
    ----------
    sizes : shape (n,), > 0, <= coil, falling
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]
    """
    coils: Groups = []
    rooms: list[tuple[int, int]] = []
    for run, size in enumerate(sizes.tolist()):
        at = bisect_left(rooms, (size, -1))
        if at < len(rooms):
            room, number = rooms.pop(at)
        else:
            room, number = coil, len(coils)
            coils.append([])
        coils[number].append(run)
        insort(rooms, (room - size, number))
    return coils


def full_enough(sizes: IntArray, coil: int, coils: int) -> Groups:
    """Runs of each coil, coil by coil: the longest run that is left, and those that fill the coil well enough with it.

    Well enough is up to an equal share of the wire that so many coils have to spare. Which lengths can be made is kept
    as one long row of bits, a bit a cell of the coil; runs are rounded up to cells. The longest runs are taken that do,
    so that short ones are left to fill the last coils. More coils are used where this way needs them.

    Parameters
    ----------
    sizes : shape (n,), > 0, <= coil, falling
        Lengths of the runs. [whole units]
    coil : int
        Length of a coil. [the same units]
    coils : int
        How many coils are hoped for.

    References
    ----------
    J. N. D. Gupta and J. C. Ho, A new heuristic algorithm for the one-dimensional bin-packing problem, Production
    Planning & Control 10 (1999) 598-603 (from memory): fill each bin with the least slack, with one item fixed.
    """
    cell = max(1, coil // _CELLS)
    length, room = (-(-sizes // cell)).tolist(), coil // cell
    left = list(range(len(length)))
    filled: Groups = []
    spare = coils * room - sum(length)
    while left:
        may_leave = max(0.0, spare / max(1, coils - len(filled)))
        # A run of a whole coil may be a cell too long when rounded up: it goes alone.
        sums = [1 << min(length[left[0]], room)]
        for run in left[1:]:
            sums.append((sums[-1] | sums[-1] << length[run]) & ((2 << room) - 1))
            if sums[-1].bit_length() > room - may_leave:
                break
        rest = sums[-1].bit_length() - 1
        spare -= room - rest
        taken = [0]
        for place in range(len(sums) - 1, 0, -1):
            if not sums[place - 1] >> rest & 1:
                taken.append(place)
                rest -= length[left[place]]
        filled.append([left[place] for place in sorted(taken)])
        for place in sorted(taken, reverse=True):
            del left[place]
    return filled


class Exchange:
    """Groups of runs, some of them overfull, and the search for exchanges that make all of them fit.

    Attributes
    ----------
    groups : list of lists
        Runs of each group.
    coils : IntArray
        Coils of each group, shape (n_groups,).
    """

    def __init__(self, sizes: IntArray, coil: int, groups: Groups, most: int) -> None:
        """Take the first `most` groups as they are, one coil each; spread the runs of the others over them."""
        self._sizes, self._coil = sizes, coil
        self.groups = [list(group) for group in groups[:most]] + [[] for _ in range(most - len(groups))]
        self.coils: IntArray = np.ones(most, dtype=np.int64)
        self._load: IntArray = np.array([sizes[group].sum() for group in self.groups], dtype=np.int64)
        self._rng = np.random.default_rng(0)
        for run in sorted(run for group in groups[most:] for run in group):
            emptiest = int(np.argmin(self._load))
            self.groups[emptiest].append(run)
            self._load[emptiest] += sizes[run]
        self._list_all()

    @property
    def _room(self) -> IntArray:
        return self.coils * self._coil - self._load

    def add_coil(self) -> None:
        """Add an empty coil as a group of its own."""
        self.groups.append([])
        self.coils, self._load = np.append(self.coils, 1), np.append(self._load, 0)
        self._list_all()

    def join_two(self) -> None:
        """Lay two groups end to end: the most overfull, and the smallest that makes it fit or overrun least."""
        room = self._room
        one = int(np.argmin(room))
        after = np.minimum(room[one] + room, 0)
        after[one] = -_NO_SET
        other = int(np.lexsort((room, self.coils, -after))[0])
        self.groups[one] = sorted(self.groups[one] + self.groups[other])
        self.coils[one] += self.coils[other]
        self._load[one] += self._load[other]
        del self.groups[other]
        self.coils, self._load = np.delete(self.coils, other), np.delete(self._load, other)
        self._list_all()

    def fits(self) -> bool:
        """Return whether all groups fit on their coils now, after as many exchanges as that takes or are allowed.

        Each time an overfull group exchanges none, one or two runs with another group so that the two overrun by
        as little as possible, even if that is more than before; a run that moved stays for some exchanges.
        """
        moved = np.full(self._sizes.size, -1)
        least = overrun = int(np.maximum(-self._room, 0).sum())
        for number in range(_EXCHANGES):
            overfull = np.flatnonzero(self._room < 0)
            if overfull.size == 0 or len(self.groups) == 1:
                break
            one = int(overfull[self._rng.integers(overfull.size)])
            for more, other, out, back in self._moves(one):
                # A run may move again early if that is better than all before.
                if overrun + more < least or (moved[list(out + back)] < number).all():
                    self._swap(one, other, out, back)
                    moved[list(out + back)] = number + self._rng.integers(*_STAY, size=len(out + back))
                    overrun += more
                    least = min(least, overrun)
                    break
        return bool((self._room >= 0).all())

    def _moves(self, one: int) -> list[tuple[int, int, Set, Set]]:
        """Best exchanges with one group: how much more is overrun, the other group, the runs out and back."""
        others = np.delete(np.arange(len(self.groups)), one)
        if others.size > _PARTNERS:
            others = np.sort(self._rng.choice(others, _PARTNERS, replace=False))
        out = self._lengths[one][: len(self._sets[one])]
        back = self._lengths[others]
        room, rooms = self._room[one], self._room[others, None]
        longer = back - out[:, None, None]
        more = np.maximum(longer - room, 0) + np.maximum(-longer - rooms, 0)
        more += np.minimum(room, 0) + np.minimum(rooms, 0)
        more[longer == 0] = _NO_SET
        more = more.ravel()
        some = np.argpartition(more, min(_WEIGHED, more.size) - 1)[:_WEIGHED]
        some = some[np.lexsort((some, more[some]))]
        some = some[more[some] < _NO_SET // 2]
        return [
            (int(more[at]), int(others[o]), self._sets[one][p], self._sets[int(others[o])][q])
            for at, p, o, q in zip(some, *np.unravel_index(some, longer.shape), strict=True)
        ]

    def _swap(self, one: int, other: int, out: Set, back: Set) -> None:
        for here, there, runs in ((one, other, out), (other, one, back)):
            self.groups[here] = [run for run in self.groups[here] if run not in runs]
            self.groups[there].extend(runs)
            self._load[here] -= self._sizes[list(runs)].sum()
            self._load[there] += self._sizes[list(runs)].sum()
        self._list_sets(one)
        self._list_sets(other)

    def _list_all(self) -> None:
        self._sets: list[list[Set]] = [[] for _ in self.groups]
        self._lengths: IntArray = np.full((len(self.groups), 1), _NO_SET)
        for number in range(len(self.groups)):
            self._list_sets(number)

    def _list_sets(self, number: int) -> None:
        """List the sets of none, one or two runs of a group, and their lengths."""
        group = self.groups[number]
        some = group if len(group) <= _PAIRED else self._rng.choice(group, _PAIRED, replace=False).tolist()
        sets = [(), *((run,) for run in group), *combinations(some, 2)]
        short = len(sets) - self._lengths.shape[1]
        if short > 0:
            self._lengths = np.pad(self._lengths, ((0, 0), (0, short)), constant_values=_NO_SET)
        pairs = np.array([*((-1, -1), *((run, -1) for run in group)), *combinations(some, 2)])
        self._lengths[number] = _NO_SET
        self._lengths[number, : len(sets)] = np.append(self._sizes, 0)[pairs].sum(axis=1)
        self._sets[number] = sets
