"""Coils cut in working order: by hand, against every way there is in small cases, and what must hold in all."""

from collections.abc import Iterable, Iterator
from functools import cache
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from wirerun.errors import MechanicsError
from wirerun.optimise.coil_bound import least_cost
from wirerun.optimise.coil_order import cut_in_order
from wirerun.optimise.coil_pieces import Coil, Lines, Pieces, carried, in_one_walk, most_in_a_zone, most_open, spent


class Prices(NamedTuple):
    """Of a coil, a join, a coil carried, and a walk along the row."""

    coil: float
    join: float
    carry: float
    walk: float = 0.0


class Begun(NamedTuple):
    """A coil that is begun: what is left, whether it is in the zone, whether it gave the whole of the line before."""

    rest: int
    brought: bool = False
    gave: bool = False


def make(
    length: list[int], zone: list[int] | None = None, join: float = 2.0, carry: float = 1.0, walk: float = 0.0
) -> Lines:
    """Lines; with a price of a walk every second one may share that of the line before."""
    ones = np.ones(len(length))
    return Lines(
        np.array(length, dtype=np.int64),
        np.array(zone or [0] * len(length), dtype=np.int64),
        join * ones,
        carry * ones,
        (np.arange(len(length)) % 2 == 1) & (walk > 0.0),
        walk * ones,
    )


def rows(pieces: Pieces) -> list[tuple[int, int, int, int]]:
    columns = (pieces.line, pieces.coil, pieces.from_mm, pieces.to_mm)
    return list(zip(*(column.tolist() for column in columns), strict=True))


def cheapest(
    lengths: tuple[int, ...],
    zones: tuple[int, ...],
    coil: int,
    most: int,
    end: int,
    prices: Prices,
    *,
    joins: bool,
    parts: tuple[int, ...] = (),
) -> float:
    """Least cost of all ways there are: any piece of any length from any coil, any coil put aside at any time.

    New coils are whole ones, or the part coils in their order, for nothing; where nothing is joined, those that the
    line fits on.
    """

    @cache
    def go(line: int, left: int, pieces: int, coils: tuple[Begun, ...], begun: int) -> float:
        if left == 0:
            if line + 1 == len(lengths):
                return 0.0
            new_zone = zones[line + 1] != zones[line]
            return go(
                line + 1,
                lengths[line + 1],
                0,
                tidy(coil._replace(brought=False) if new_zone else coil for coil in coils),
                begun,
            )
        # On with a coil that is begun; or with a new one, for which any others may be put aside.
        sources = [(place, coils, False) for place in range(len(coils)) if coils[place].rest]
        kept = {some for count in range(most) for some in combinations(coils, count)}
        sources += [(len(some), (*some, Begun(coil)), True) for some in kept]
        of_parts = []
        if begun < len(parts) and (joins or parts[begun] >= lengths[line]):
            of_parts = [(len(some), (*some, Begun(parts[begun])), False) for some in kept]
        ways = [(*source, begun) for source in sources] + [(*source, begun + 1) for source in of_parts]
        return min((cost for way in ways for cost in cuts(line, left, pieces, *way)), default=np.inf)

    def cuts(
        line: int, left: int, pieces: int, place: int, there: tuple[Begun, ...], bought: object, begun: int
    ) -> Iterator[float]:
        mine, others = there[place], there[:place] + there[place + 1 :]
        spent = (prices.coil if bought else 0.0) + (0.0 if mine.brought else prices.carry)
        beside = prices.walk > 0.0 and line % 2 == 1
        for cut in range(1, min(mine.rest, left) + 1):
            whole = pieces == 0 and cut == left
            if not whole and ((not joins and lengths[line] <= coil) or cut < end or 0 < left - cut < end):
                continue
            alone = beside and pieces == 0 and not (whole and any(other.gave for other in others))
            after = Begun(mine.rest - cut, brought=True, gave=whole and prices.walk > 0.0 and line % 2 == 0)
            rest = tidy((*(other._replace(gave=False) for other in others), after))
            more = (prices.join if cut < left else 0.0) + (prices.walk if alone else 0.0)
            yield spent + more + go(line, left - cut, pieces + 1, rest, begun)

    def tidy(coils: Iterable[Begun]) -> tuple[Begun, ...]:
        return tuple(sorted(coil for coil in coils if coil.rest or coil.gave))

    return go(0, lengths[0], 0, (), 0)


def test_one_open_coil_by_hand() -> None:
    """60, 60 and 60 of coils of 100, pieces of 20 at least: 40 of the first coil go on with 20 of the second."""
    cut = cut_in_order(make([60, 60, 60]), Coil(100, 50.0), most_open=1, joins=True, end_piece_mm=20)
    assert rows(cut.pieces) == [(0, 0, 0, 60), (1, 0, 60, 100), (1, 1, 0, 20), (2, 1, 20, 80)]
    assert cut.exact
    whole = cut_in_order(make([60, 60, 60]), Coil(100, 50.0), most_open=1, joins=False, end_piece_mm=20)
    assert rows(whole.pieces) == [(0, 0, 0, 60), (1, 1, 0, 60), (2, 2, 0, 60)]


def test_two_open_coils_by_hand() -> None:
    """60, 70, 40, 30 of coils of 100: with two open no join is needed, with one open two coils take a join."""
    lines, coil = make([60, 70, 40, 30]), Coil(100, 50.0)
    two = cut_in_order(lines, coil, most_open=2, joins=True, end_piece_mm=10).pieces
    assert rows(two) == [(0, 0, 0, 60), (1, 1, 0, 70), (2, 0, 60, 100), (3, 1, 70, 100)]
    assert (two.coils, two.joins, most_open(two)) == (2, 0, 2)
    one = cut_in_order(lines, coil, most_open=1, joins=True, end_piece_mm=10).pieces
    assert (one.coils, one.joins, most_open(one)) == (2, 1, 1)


def test_a_join_keeps_away_from_both_ends() -> None:
    """10 are left, 20 are the least: the coil is put aside. 95 are left of 100: 80 are taken, and 20 of the next."""
    short = cut_in_order(make([90, 60]), Coil(100, 50.0), most_open=1, joins=True, end_piece_mm=20)
    assert rows(short.pieces) == [(0, 0, 0, 90), (1, 1, 0, 60)]
    near = cut_in_order(make([5, 100]), Coil(100, 50.0), most_open=1, joins=True, end_piece_mm=20)
    spare = cut_in_order(make([5, 100, 75]), Coil(100, 50.0), most_open=1, joins=True, end_piece_mm=20)
    assert near.pieces.coils == spare.pieces.coils == 2
    assert rows(spare.pieces)[1:] == [(1, 0, 5, 85), (1, 1, 0, 20), (2, 1, 20, 95)]


def test_a_line_longer_than_a_coil_takes_whole_coils_in_between() -> None:
    """250 of coils of 100: 40 that are left, two whole ones, and 10 would be too short: the last but one gives 90."""
    cut = cut_in_order(make([60, 250, 75]), Coil(100, 50.0), most_open=1, joins=True, end_piece_mm=20).pieces
    assert rows(cut)[:-1] == [(0, 0, 0, 60), (1, 0, 60, 100), (1, 1, 0, 100), (1, 2, 0, 90), (1, 3, 0, 20)]
    assert rows(cut)[-1] == (2, 3, 20, 95)
    alone = cut_in_order(make([60, 250]), Coil(100, 50.0), most_open=1, joins=False, end_piece_mm=20).pieces
    assert rows(alone) == [(0, 0, 0, 60), (1, 1, 0, 100), (1, 2, 0, 100), (1, 3, 0, 50)]


def test_carrying_decides_where_all_else_is_alike() -> None:
    """30 of 100 are left, and the next zone wants 30 twice: both from a new coil, or the old one is carried for one."""
    lines = make([30, 40, 30, 30], [0, 0, 1, 1], carry=3.0)
    cut = cut_in_order(lines, Coil(100, 50.0), most_open=2, joins=True, end_piece_mm=20).pieces
    assert rows(cut)[2:] == [(2, 1, 0, 30), (3, 1, 30, 60)]
    assert carried(cut, lines).tolist() == [True, False, True, False]


def test_two_lines_beside_each_other_take_one_walk_from_two_coils() -> None:
    """Both of 40 from one coil of 100 save a coil for a while; a walk of 3 and coils both needed later do not."""
    alone = cut_in_order(make([40, 40, 50, 50], carry=0.0), Coil(100, 50.0), most_open=2, joins=False, end_piece_mm=20)
    assert rows(alone.pieces) == [(0, 0, 0, 40), (1, 0, 40, 80), (2, 1, 0, 50), (3, 1, 50, 100)]
    lines = make([40, 40, 50, 50], carry=0.0, walk=3.0)
    cut = cut_in_order(lines, Coil(100, 50.0), most_open=2, joins=False, end_piece_mm=20).pieces
    assert rows(cut) == [(0, 0, 0, 40), (1, 1, 0, 40), (2, 0, 40, 90), (3, 1, 40, 90)]
    assert in_one_walk(cut, lines, 2).tolist() == [False, True, False, True]
    assert in_one_walk(cut, lines, 1).tolist() == [False] * 4
    assert spent(cut, lines, Coil(100, 50.0), 2) == 100.0
    assert spent(alone.pieces, lines, Coil(100, 50.0), 2) == 106.0


def test_a_third_coil_that_stays_begun_or_a_join_leaves_two_walks() -> None:
    """Coil 0 is begun before and used after; lines 2 and 3 come from 1 and 2: three on the row. A join: two walks."""
    lines = make([10, 10, 40, 40, 10, 10], walk=1.0)
    column = ([0, 1, 2, 3, 4, 5], [0, 0, 1, 2, 0, 2], [0, 10, 0, 0, 20, 40], [10, 20, 40, 40, 30, 50], [-1] * 3)
    pieces = Pieces(*(np.array(each) for each in column))
    assert in_one_walk(pieces, lines, 2).tolist() == [False, False, False, False, False, True]
    assert in_one_walk(pieces, lines, 3).tolist() == [False, False, False, True, False, True]
    joined = Pieces(*(np.array(each) for each in ([0, 1, 1], [0, 0, 1], [0, 60, 0], [60, 80, 40], [-1, -1])))
    assert not in_one_walk(joined, make([60, 60], walk=1.0), 2).any()


def test_a_coil_that_gave_its_last_just_before_the_walk_is_no_longer_open() -> None:
    """Coil 0 gives lines 0 and 1 and no more; lines 2 and 3 come from 1 and 2: two are open on the row."""
    lines = make([10, 10, 40, 40], walk=1.0)
    column = ([0, 1, 2, 3], [0, 0, 1, 2], [0, 10, 0, 0], [10, 20, 40, 40], [-1] * 3)
    pieces = Pieces(*(np.array(each) for each in column))
    assert in_one_walk(pieces, lines, 2).tolist() == [False, False, False, True]
    assert in_one_walk(pieces, lines, 1).tolist() == [False] * 4


def test_a_joined_line_saves_no_walk() -> None:
    """90 and 40, then 50 and 80, each pair from two coils at once. 80 joined of 10 and 70 is a join and a walk more."""
    lines, coil = make([90, 40, 50, 80], carry=0.0, walk=3.0), Coil(100, 50.0)
    cut = cut_in_order(lines, coil, most_open=2, joins=True, end_piece_mm=10).pieces
    assert rows(cut) == [(0, 0, 0, 90), (1, 1, 0, 40), (2, 1, 40, 90), (3, 2, 0, 80)]
    assert spent(cut, lines, coil, 2) == 150.0
    column = ([0, 1, 2, 3, 3], [0, 1, 1, 0, 2], [0, 0, 40, 90, 0], [90, 40, 90, 100, 70], [-1] * 3)
    joined = Pieces(*(np.array(each) for each in column))
    assert spent(joined, lines, coil, 2) == 150.0 + 2.0 + 3.0


def test_figures_of_a_plan_by_hand() -> None:
    """Coil 0 serves zones 0 and 1, coil 1 both too: four trips; both are open from the second piece to the third."""
    lines = make([60, 70, 40, 30], [0, 0, 1, 1], join=2.0, carry=1.5)
    pieces = cut_in_order(lines, Coil(100, 50.0), most_open=2, joins=True, end_piece_mm=10).pieces
    assert carried(pieces, lines).tolist() == [True, True, True, True]
    assert most_in_a_zone(pieces, lines) == 2
    assert spent(pieces, lines, Coil(100, 50.0)) == 2 * 50.0 + 4 * 1.5


def test_nothing_to_cut() -> None:
    cut = cut_in_order(make([]), Coil(100, 50.0), most_open=2, joins=True, end_piece_mm=20)
    assert (len(cut.pieces), cut.pieces.coils, most_open(cut.pieces), cut.exact) == (0, 0, 0, True)


def test_a_length_of_nothing_is_refused() -> None:
    with pytest.raises(MechanicsError, match="length_mm"):
        cut_in_order(make([10, 0]), Coil(100, 50.0), most_open=2, joins=True, end_piece_mm=20)


@pytest.mark.parametrize(("length", "coils", "joins"), [([60, 70, 70, 100], 3, 1), ([60, 250, 75], 4, 3)])
def test_the_bound_counts_joins_that_metres_do_not_ask_for(length: list[int], coils: int, joins: int) -> None:
    """60, 70, 70, 100 use three coils up where 70 is joined of 40 and 30.

    60, 250, 75 take four coils: 250 two joins, and one more, for 60 and 75 fit on no coil together.
    """
    lines, coil = make(length, carry=0.0), Coil(100, 50.0)
    by_hand = coils * 50.0 + joins * 2.0
    assert least_cost(lines, coil, most_open=2, joins=True, cells=100) == by_hand
    assert spent(cut_in_order(lines, coil, most_open=2, joins=True, end_piece_mm=1).pieces, lines, coil, 2) == by_hand
    # With three open only metres count, and the joins of a line longer than a coil.
    assert least_cost(lines, coil, most_open=3, joins=True) == coils * 50.0 + 2.0 * 2 * (max(length) > 200)


prices = st.builds(
    Prices,
    coil=st.sampled_from([5.0, 20.0]),
    join=st.sampled_from([0.5, 2.0, 6.0]),
    carry=st.sampled_from([0.0, 0.7, 3.0]),
    walk=st.sampled_from([0.0, 0.0, 1.1]),
)
small = st.lists(st.tuples(st.integers(1, 20), st.integers(0, 1)), min_size=1, max_size=5)


def both(case: list[tuple[int, int]], end: int, price: Prices, most: int, *, joins: bool) -> tuple[float, float, float]:
    """Cost of the plan, the least of all ways, and the bound; coils of 12."""
    lengths = tuple(length if joins else min(length, 12) for length, _ in case)
    zones = tuple(np.cumsum([step for _, step in case]).tolist())
    lines = make(list(lengths), list(zones), price.join, price.carry, price.walk)
    coil = Coil(12, price.coil)
    cut = cut_in_order(lines, coil, most_open=most, joins=joins, end_piece_mm=end)
    assert cut.exact == (most == 1)
    bound = least_cost(lines, coil, most_open=most, joins=joins, cells=12)
    return spent(cut.pieces, lines, coil, most), cheapest(lengths, zones, 12, most, end, price, joins=joins), bound


@settings(max_examples=60, deadline=None)
@given(case=small, end=st.integers(1, 4), price=prices, joins=st.booleans())
def test_with_one_coil_open_no_way_costs_less(
    case: list[tuple[int, int]], end: int, price: Prices, *, joins: bool
) -> None:
    cost, least, bound = both(case, end, price, 1, joins=joins)
    assert cost == pytest.approx(least, abs=1e-9)
    assert bound <= least + 1e-9


@settings(max_examples=20, deadline=None)
@given(case=small, end=st.integers(1, 4), price=prices, joins=st.booleans())
def test_with_two_coils_open_the_bound_holds_and_hardly_anything_costs_less(
    case: list[tuple[int, int]], end: int, price: Prices, *, joins: bool
) -> None:
    cost, least, bound = both(case, end, price, 2, joins=joins)
    assert bound <= least + 1e-9
    assert cost >= least - 1e-9
    # A line longer than a coil may be worth cutting the line before it from two coils: that is not looked for.
    long = any(length > 12 for length, _ in case)
    assert cost <= least + max(price.join, price.carry, price.walk, price.coil if long else 0.0) + 1e-9


def test_part_coils_come_first_and_in_their_order() -> None:
    """60 and 45 on part coils: 60 of the first line, 40 of the second part coil, and its last 5 cannot be joined on."""
    coil = Coil(100, 50.0, (60, 45))
    cut = cut_in_order(make([100, 90]), coil, most_open=1, joins=True, end_piece_mm=20).pieces
    assert rows(cut) == [(0, 0, 0, 60), (0, 1, 0, 40), (1, 2, 0, 90)]
    assert cut.part.tolist() == [0, 1, -1]
    assert (cut.coils, cut.whole) == (3, 1)
    assert spent(cut, make([100, 90]), coil) == 50.0 + 2.0 + 3.0
    assert cut.begun_mm(coil).tolist() == [60, 45, 100]


def test_without_joins_a_part_coil_waits_for_a_line_that_fits_on_it() -> None:
    """100 fits on none; 50 on the first, and then 40 on the second."""
    coil = Coil(100, 50.0, (60, 45))
    cut = cut_in_order(make([100, 50, 40]), coil, most_open=1, joins=False, end_piece_mm=20).pieces
    assert rows(cut) == [(0, 0, 0, 100), (1, 1, 0, 50), (2, 2, 0, 40)]
    assert cut.part.tolist() == [-1, 0, 1]


def test_a_part_coil_that_is_no_part_is_refused() -> None:
    for part in (10, 101):
        with pytest.raises(MechanicsError, match="not within 20 and 100 mm"):
            cut_in_order(make([50]), Coil(100, 50.0, (part,)), most_open=1, joins=True, end_piece_mm=20)


@settings(max_examples=40, deadline=None)
@given(
    case=small,
    end=st.integers(1, 4),
    price=prices,
    most=st.integers(1, 2),
    parts=st.lists(st.integers(4, 12), min_size=1, max_size=3),
    joins=st.booleans(),
)
def test_with_part_coils_the_bound_holds_and_hardly_anything_costs_less(
    case: list[tuple[int, int]], end: int, price: Prices, most: int, parts: list[int], *, joins: bool
) -> None:
    lengths = tuple(length if joins else min(length, 12) for length, _ in case)
    zones = tuple(np.cumsum([step for _, step in case]).tolist())
    lines, coil = (
        make(list(lengths), list(zones), price.join, price.carry, price.walk),
        Coil(12, price.coil, tuple(parts)),
    )
    cut = cut_in_order(lines, coil, most_open=most, joins=joins, end_piece_mm=end)
    least = cheapest(lengths, zones, 12, most, end, price, joins=joins, parts=tuple(parts))
    cost = spent(cut.pieces, lines, coil, most)
    assert least_cost(lines, coil, most_open=most, joins=joins) <= least + 1e-9
    assert cost >= least - 1e-9
    # That part coils come first may cost a join and a carrying for each; the rest as without them.
    long = any(length > 12 for length, _ in case)
    more = (1 + len(parts)) * (price.join + price.carry) + price.walk + (price.coil if long else 0.0)
    assert cost <= least + more + 1e-9


def test_a_part_coil_that_no_piece_can_be_cut_of_waits() -> None:
    """25 on it: of 30 it could give 10 or 25, with 20 the least. Once the whole coil is used up, it gives a line."""
    coil = Coil(100, 50.0, (25,))
    cut = cut_in_order(make([30, 70, 24]), coil, most_open=1, joins=True, end_piece_mm=20).pieces
    assert rows(cut) == [(0, 0, 0, 30), (1, 0, 30, 100), (2, 1, 0, 24)]
    assert cut.part.tolist() == [-1, 0]


@settings(max_examples=40, deadline=None)
@given(
    length=st.lists(st.integers(1_000, 1_500_000), min_size=1, max_size=60),
    seed=st.integers(0, 99),
    most=st.integers(1, 4),
    end=st.sampled_from([0, 7_500, 20_000]),
    joins=st.booleans(),
)
def test_every_line_gets_its_length_and_no_more_coils_are_open_than_may_be(
    length: list[int], seed: int, most: int, end: int, *, joins: bool
) -> None:
    zone = np.cumsum(np.random.default_rng(seed).random(len(length)) < 0.3)
    lines, coil = make(length, zone.tolist(), 2.5, 1.2), Coil(648_000, 68.0)
    cut = cut_in_order(lines, coil, most_open=most, joins=joins, end_piece_mm=end)
    pieces = cut.pieces
    got = pieces.to_mm - pieces.from_mm
    assert np.bincount(pieces.line, weights=got).tolist() == length
    assert (np.diff(pieces.line) >= 0).all()
    joined = np.bincount(pieces.line)[pieces.line] > 1
    assert (got[joined] >= max(end, 1)).all()
    assert most_open(pieces) <= most
    for coil_number in range(pieces.coils):
        mine = np.flatnonzero(pieces.coil == coil_number)
        assert pieces.from_mm[mine].tolist() == [0, *pieces.to_mm[mine][:-1].tolist()]
    assert pieces.to_mm.max() <= 648_000
    assert pieces.coils >= -(-sum(length) // 648_000)
    if not joins:
        assert pieces.joins == sum(-(-each // 648_000) - 1 for each in length)
    again = cut_in_order(lines, coil, most_open=most, joins=joins, end_piece_mm=end)
    assert rows(again.pieces) == rows(pieces)
    bound = least_cost(lines, coil, most_open=most, joins=joins)
    assert bound <= spent(pieces, lines, coil) + 1e-9


def test_more_coils_open_need_fewer_joins_and_more_states_cost_no_more() -> None:
    """Rows of 60 to 220 m, four lines each, as on a hillside: one coil open is exact, two save joins."""
    rng = np.random.default_rng(5)
    row = rng.uniform(60_000, 220_000, 60).astype(np.int64)
    lines, coil = (
        make(np.repeat(row, 4).tolist(), np.repeat(np.arange(60) // 3, 4).tolist(), 2.5, 1.2),
        Coil(648_000, 68.0),
    )
    cost = {
        (most, keep): spent(
            cut_in_order(lines, coil, most_open=most, joins=True, end_piece_mm=20_000, keep=keep).pieces, lines, coil
        )
        for most, keep in ((1, 128), (2, 32), (2, 128))
    }
    assert cost[2, 128] <= cost[2, 32] < cost[1, 128]
