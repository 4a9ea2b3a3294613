"""Clips set higher or lower: the least cost against every way tried, and cases worked by hand."""

from itertools import product

import numpy as np
import pytest
from wirerun.arrays import IntArray
from wirerun.mechanics.row_index import RowIndex
from wirerun.optimise.levelling import NEVER, StepCosts, cheapest_steps, cost_of_steps


def of_step(posts: RowIndex, most: int, per_step: int) -> IntArray:
    """Cost of steps, so much each; row ends take none."""
    cost = np.tile(per_step * np.abs(np.arange(-most, most + 1)), (posts.size, 1))
    for end in (*posts.first, *posts.last):
        cost[end] = np.where(np.arange(-most, most + 1) == 0, 0, NEVER)
    return cost


def of_posts(costs: StepCosts, some: slice) -> StepCosts:
    return StepCosts(costs.slope[some], costs.reach[some], costs.of_post[some], costs.of_step[some], *costs[-2:])


def drawn(rng: np.random.Generator, sizes: list[int], most: int) -> tuple[RowIndex, StepCosts]:
    """Rows whose posts cost what chance says, falling from one end of the axis to the other."""
    rows = RowIndex.of(np.repeat(np.arange(len(sizes)), sizes))
    before, after = rng.uniform(-0.3, -0.1, (2, rows.size))
    slope = np.stack((before, -before - after, after), axis=-1)
    of_post = -np.sort(-rng.integers(0, 1000, (rows.size, 41)), axis=1)
    two_way, change = rng.integers(100, 600), rng.integers(0, 300)
    return rows, StepCosts(
        slope, most * np.abs(slope).sum(axis=1), of_post, of_step(rows, most, 9), int(two_way), int(change)
    )


def cost(rows: RowIndex, costs: StepCosts, steps: IntArray) -> int:
    """With the kinds that cost least, each way tried; row ends have no two-way clips."""
    two_way = np.zeros(rows.size, dtype=np.bool_)
    total = 0
    for first, last in zip(rows.first, rows.last, strict=True):
        row, mine = RowIndex.of(rows.number[first : last + 1]), slice(first, last + 1)
        tries = []
        for kinds in product((False, True), repeat=int(last - first - 1)):
            two_way[first + 1 : last] = kinds
            tries.append(cost_of_steps(row, of_posts(costs, mine), steps[mine], two_way[mine]))
        total += min(tries)
    return total


@pytest.mark.parametrize("seed", range(12))
def test_no_other_steps_cost_less(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rows, costs = drawn(rng, [5, 2, 3, 4], 2)
    found = cheapest_steps(rows, costs)
    least = cost(rows, costs, found)
    # Rows do not touch each other, so each is tried by itself.
    for first, last in zip(rows.first, rows.last, strict=True):
        tries = []
        for inner in product(range(-2, 3), repeat=int(last - first - 1)):
            steps = found.copy()
            steps[first + 1 : last] = inner
            tries.append(cost(rows, costs, steps))
        assert least == min(tries)
    assert (found[rows.first] == 0).all()
    assert (found[rows.last] == 0).all()


def test_a_row_is_worth_the_same_alone_and_among_others() -> None:
    rows, costs = drawn(np.random.default_rng(3), [7, 4, 9], 3)
    found = cheapest_steps(rows, costs)
    for row, (first, last) in enumerate(zip(rows.first, rows.last, strict=True)):
        mine = slice(first, last + 1)
        alone = cheapest_steps(RowIndex.of(rows.number[mine]), of_posts(costs, mine))
        assert alone.tolist() == found[mine].tolist(), row


def test_a_dip_is_evened_out_by_hand() -> None:
    """Posts cost 100 where they pull up, the lower half of the axis: the middle one does, by a step of its own.

    Raised by one step it moves by 2 and its neighbours by -1 each, which is what they had in hand. A step costs 3.
    """
    rows = RowIndex.of(np.zeros(5, dtype=np.int64))
    slope = np.tile([-1.0, 2.0, -1.0], (5, 1))
    axis = np.linspace(-8.0, 8.0, 17)
    seen = np.array([0.0, 1.0, -1.0, 1.0, 0.0])
    of_post = np.where(axis + seen[:, None] < 0.0, 100, 0)
    costs = StepCosts(slope, np.full(5, 8.0), of_post, of_step(rows, 2, 3), 100, 0)
    assert cheapest_steps(rows, costs).tolist() == [0, 0, 1, 0, 0]
    # A step that costs more than the post is not taken.
    dear = costs._replace(of_step=of_step(rows, 2, 101))
    assert cheapest_steps(rows, dear).tolist() == [0, 0, 0, 0, 0]
    # Where the middle post may not go up, a neighbour that goes down would pull up itself: all stay.
    barred = costs.of_step.copy()
    barred[2, 3:] = NEVER
    assert cheapest_steps(rows, costs._replace(of_step=barred)).tolist() == [0, 0, 0, 0, 0]


def test_a_change_of_kind_makes_sections_of_two_way_clips_whole() -> None:
    """Five posts pull up, all but the middle one by 9; a step up of that one by itself mends it, for 3.

    Where a change of kind costs 10 and a two-way clip 15, one for the middle post saves two changes and the step.
    """
    rows = RowIndex.of(np.zeros(7, dtype=np.int64))
    slope = np.tile([-1.0, 2.0, -1.0], (7, 1))
    axis = np.linspace(-8.0, 8.0, 17)
    seen = np.array([0.0, -9.0, -9.0, -1.0, -9.0, -9.0, 0.0])
    of_post = np.where(axis + seen[:, None] < 0.0, 100, 0)
    costs = StepCosts(slope, np.full(7, 8.0), of_post, of_step(rows, 2, 3), 15, 10)
    assert cheapest_steps(rows, costs).tolist() == [0] * 7
    closed = np.array([False, True, True, True, True, True, False])
    assert cost_of_steps(rows, costs, np.zeros(7, dtype=np.int64), closed) == 5 * 15 + 2 * 10
    # Without that price it is mended by a step, and two changes more stand beside it.
    free = cheapest_steps(rows, costs._replace(change=0))
    assert np.abs(free).sum() == 1
    closed[3] = False
    assert cost_of_steps(rows, costs, free, closed) == 4 * 15 + 4 * 10 + 3
