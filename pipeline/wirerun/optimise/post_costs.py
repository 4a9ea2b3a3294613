"""What a row of posts costs on its ground: posts, two-way clips, posts held down, spans too close to the ground.

Where heights have an error, a post's clips cost the least of two-way ones and of the probability to miss them.

The load of a wire on a post is the closed form for a taut light wire (`undulation.taut_clip_load`), taken apart
into what the span before and the span after bring. Wires hang equally high on all posts of a row, so all of them
see the same rises and runs.

Of all states of a wire the one with the greatest tension pulls up most, for where the wire pulls up at all its pull
grows with the tension. So one tension per wire is enough.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from scipy.special import ndtr

from wirerun.errors import MechanicsError
from wirerun.mechanics import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.refusals import require_non_negative, require_positive
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports

#: Prices count in whole millionths, so that sums do not depend on their order and equal costs are equal. Choice.
PARTS_PER_UNIT: Final = 1_000_000
# Sums of prices stay below this, so that whole numbers of 64 bits have room for them several times over.
_GREATEST_SUM: Final = 2**60


@dataclass(frozen=True, slots=True, eq=False)
class WireLoad:
    """One wire in the state in which it pulls up most, which is its greatest tension.

    Attributes
    ----------
    tension_n : FloatLike
        Tension at the first post of a row, > 0; one number or one per row. Uphill of it the wire is tighter by its
        weight times the rise. [N]
    weight_n_per_m : float
        Weight of one line per metre, >= 0. [N/m]
    lines : int
        Lines of this wire: 2 for a pair.
    clipped : bool
        Whether it sits in clips; a stapled wire counts for the post only.
    """

    tension_n: FloatLike
    weight_n_per_m: float
    lines: int
    clipped: bool


@dataclass(frozen=True, slots=True)
class PostLimits:
    """What a one-way clip and a post withstand.

    Attributes
    ----------
    hold_down_n : float
        Upward pull of one line that a one-way clip still holds, >= 0. [N]
    uplift_limit_n : float
        Net upward pull of all lines that a post withstands without being held down, >= 0. [N]
    """

    hold_down_n: float
    uplift_limit_n: float


@dataclass(frozen=True, slots=True)
class FitPrices:
    """Prices, >= 0, in any one currency, each taken to a millionth.

    Attributes
    ----------
    post : float
        One intermediate post with its ordinary clips.
    two_way_clip : float
        What a two-way clip costs more than a one-way clip, per line.
    hold_down : float
        Holding one post down.
    breach : float
        One span in which the lowest wire comes too close to the ground.
    missed_clip : float
        What it costs, per line, where a two-way clip is needed and a one-way one was set. Without errors of heights
        none is missed.
    """

    post: float
    two_way_clip: float
    hold_down: float
    breach: float
    missed_clip: float = 0.0


@dataclass(frozen=True, slots=True)
class RowCosts:
    """Counts and cost of each row, shape (n_rows,) each; NaN in rows with a missing height.

    Attributes
    ----------
    posts : FloatArray
        Intermediate posts.
    two_way_posts : FloatArray
        Posts among them on which every clipped line gets a two-way clip.
    held_posts : FloatArray
        Posts among them that are pulled up by more than they withstand.
    breaches : FloatArray
        Spans too close to the ground.
    cost : FloatArray
        What all of this costs, in the currency of the prices.
    """

    posts: FloatArray
    two_way_posts: FloatArray
    held_posts: FloatArray
    breaches: FloatArray
    cost: FloatArray


class Expected(NamedTuple):
    """Ground as it is expected to be.

    Attributes
    ----------
    z_m : FloatArray
        Its height at each place, shape (n_places,). [m]
    error_m : FloatArray
        One sigma of that, each by itself, shape (n_places,). [m]
    """

    z_m: FloatArray
    error_m: FloatArray


class Pulls(NamedTuple):
    """Pulls at every support that decide what its post needs: first those on clips, last the sum of all lines.

    Attributes
    ----------
    tension_n : FloatArray
        Shape (n_pulls, n_supports). [N]
    weight_n_per_m : FloatArray
        Shape (n_pulls,). [N/m]
    limit_n : FloatArray
        Upward pull from which on something is needed, shape (n_pulls,). [N]
    """

    tension_n: FloatArray
    weight_n_per_m: FloatArray
    limit_n: FloatArray


class PartPrices(NamedTuple):
    """Prices in whole millionths: per post, with two-way clips, held down, per breach; clips of a post missed."""

    post: int
    two_way_post: int
    hold_down: int
    breach: int
    missed_post: int = 0


def _uphill(supports: Supports, tension_n: FloatLike, weight_n_per_m: float) -> FloatArray:
    z_m, rows = supports.z_m, supports.rows
    start = rows.per_row("tension_n", tension_n)
    require_positive("Load on a post", tension_n=start)
    require_non_negative("Load on a post", weight_n_per_m=np.asarray(weight_n_per_m, dtype=np.float64))
    climb = z_m - z_m[rows.first][rows.ordinal]
    pull = start[rows.ordinal] + weight_n_per_m * climb
    slack = pull <= 0.0
    if slack.any():
        at = int(np.flatnonzero(slack)[0])
        message = (
            f"Support {at} (counted from 0) lies {-climb[at]:g} m below the start of its row: with "
            f"{start[rows.ordinal[at]]:g} N there the wire is slack here."
        )
        raise MechanicsError(message)
    return np.asarray(pull)


def pulls_at(supports: Supports, wires: Sequence[WireLoad], limits: PostLimits) -> Pulls:
    """Pulls that decide what a post at each support needs; see `Pulls`.

    Of clipped wires of equal weight only the tightest counts: it pulls up most wherever any of them does.

    Parameters
    ----------
    supports : Supports
        Posts, with the height of the ground.
    wires : sequence of WireLoad
        All wires of the row.
    limits : PostLimits
        What clip and post withstand.

    Raises
    ------
    MechanicsError
        If a tension, weight or limit cannot be, or a wire would be slack far down a row; names the place.
    """
    require_non_negative(
        "What a post withstands",
        hold_down_n=np.asarray(limits.hold_down_n, dtype=np.float64),
        uplift_limit_n=np.asarray(limits.uplift_limit_n, dtype=np.float64),
    )
    pulls = [_uphill(supports, wire.tension_n, wire.weight_n_per_m) for wire in wires]
    clipped = [(wire.weight_n_per_m, pull) for wire, pull in zip(wires, pulls, strict=True) if wire.clipped]
    weights = sorted({weight for weight, _ in clipped})
    tightest = [np.max([pull for own, pull in clipped if own == weight], axis=0) for weight in weights]
    together = sum((wire.lines * pull for wire, pull in zip(wires, pulls, strict=True)), np.zeros(supports.rows.size))
    in_all = sum(wire.lines * wire.weight_n_per_m for wire in wires)
    return Pulls(
        np.stack((*tightest, together)),
        np.array((*weights, in_all)),
        np.array((*(limits.hold_down_n for _ in weights), limits.uplift_limit_n)),
    )


def side_load(tension_n: FloatArray, weight_n_per_m: FloatArray, run_m: FloatArray, rise_m: FloatArray) -> FloatArray:
    """What the span on one side of a post adds to the load, shape of the inputs broadcast [N].

    w run^2/(2 chord) - T rise/chord; both sides together are the load of `taut_clip_load`.

    Parameters
    ----------
    tension_n : any shape
        Tension at the post. [N]
    weight_n_per_m : broadcasts
        Weight per metre. [N/m]
    run_m : broadcasts, > 0
        Horizontal distance to the neighbour. [m]
    rise_m : broadcasts
        Height of the neighbour above the post. [m]
    """
    chord = np.sqrt(run_m * run_m + rise_m * rise_m)
    return np.asarray(weight_n_per_m * (0.5 * run_m * run_m / chord) - tension_n * (rise_m / chord))


def post_needs(before_n: FloatArray, after_n: FloatArray, limit_n: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Which posts need two-way clips and which must be held down, shape of the sides without their first axis.

    Parameters
    ----------
    before_n, after_n : shape (n_pulls, ...), each
        `side_load` of the two spans for each of the `Pulls`. [N]
    limit_n : shape (n_pulls,)
        Their limits. [N]
    """
    load = before_n + after_n
    beyond = load < -limit_n.reshape(-1, *(1,) * (load.ndim - 1))
    return np.asarray(beyond[:-1].any(axis=0)), np.asarray(beyond[-1])


def clip_cost(
    load_n: FloatArray, tension_n: FloatArray, limit_n: FloatArray, spread: FloatArray, prices: PartPrices
) -> IntArray:
    """What the clips of posts cost in whole millionths, heights having an error: shape of the loads without pulls.

    Parameters
    ----------
    load_n : shape (n_pulls, ...)
        Load of each of the `Pulls`. [N]
    tension_n : broadcasts
        Their tensions. [N]
    limit_n : shape (n_pulls,)
        Their limits. [N]
    spread : shape of the result
        One sigma of the load at 1 N of tension, >= 0; see `load_spread`. [N/N]
    prices : PartPrices
        Of two-way clips and of missing them.
    """
    over = (-limit_n.reshape(-1, *(1,) * (load_n.ndim - 1)) - load_n)[:-1] / tension_n[:-1]
    worst = over.max(axis=0, initial=-np.inf)
    with np.errstate(invalid="ignore", divide="ignore"):
        chance = np.where(spread > 0.0, ndtr(worst / spread), worst > 0.0)
    missed = np.rint(chance * prices.missed_post).astype(np.int64)
    return np.asarray(np.minimum(missed, prices.two_way_post))


def load_spread(error_m: FloatArray, before_m: FloatArray, after_m: FloatArray) -> FloatArray:
    """One sigma of a post's load at 1 N of tension where three heights are off, each by itself, shapes broadcast.

    Parameters
    ----------
    error_m : any shape
        One sigma of each height. [m]
    before_m, after_m : broadcast, > 0
        Spans beside the post; infinite where there is none. [m]
    """
    before, after = 1.0 / before_m, 1.0 / after_m
    return np.asarray(error_m * np.sqrt(before**2 + after**2 + (before + after) ** 2))


def part_prices(prices: FitPrices, wires: Sequence[WireLoad], most: int) -> PartPrices:
    """Prices in whole millionths; refuses prices that cannot be added up ``most`` times.

    Parameters
    ----------
    prices : FitPrices
        In the currency.
    wires : sequence of WireLoad
        Their clipped lines get two-way clips together: a crew does not change clips within a post.
    most : int
        How many posts a row can have, and more.

    Raises
    ------
    MechanicsError
        If a price is negative, not finite or far beyond any price.
    """
    given = {name: np.asarray(getattr(prices, name), dtype=np.float64) for name in FitPrices.__slots__}
    require_non_negative("Cost of posts", **given)
    lines = sum(wire.lines for wire in wires if wire.clipped)
    greatest = _GREATEST_SUM / PARTS_PER_UNIT / max(most, 1)
    total = prices.post + (prices.two_way_clip + prices.missed_clip) * lines + prices.hold_down + prices.breach
    if total > greatest:
        message = f"Cost of posts: prices of {total:g} a post in all are too high to add up; the most is {greatest:g}."
        raise MechanicsError(message)
    parts = {name: round(float(price) * PARTS_PER_UNIT) for name, price in given.items()}
    of_post = parts["two_way_clip"] * lines, parts["missed_clip"] * lines
    return PartPrices(parts["post"], of_post[0], parts["hold_down"], parts["breach"], of_post[1])


def row_costs(
    posts: Supports,
    low: BoolArray | None,
    wires: Sequence[WireLoad],
    limits: PostLimits,
    prices: FitPrices,
    expected: Expected | None = None,
) -> RowCosts:
    """Cost of each row of given posts, by the rules by which `fitting.fit_posts` chooses.

    Parameters
    ----------
    posts : Supports
        The posts, any placing, with the height of the foot; the first and last of each row are its end posts and cost
        nothing.
    low : shape (n_spans,), or None for no span
        Spans too close to the ground, from `clearance.low_spans`.
    wires : sequence of WireLoad
        All wires of the row.
    limits : PostLimits
        What clip and post withstand.
    prices : FitPrices
        What things cost.
    expected : Expected, optional
        The ground that loads are reckoned with; two-way posts are then those for which two-way clips cost no more than
        the chance to miss them.

    Raises
    ------
    MechanicsError
        If a wire, limit or price cannot be; names the place.
    """
    x, rows = posts.x_m, posts.rows
    z = posts.z_m if expected is None else expected.z_m
    parts = part_prices(prices, wires, int(np.bincount(rows.ordinal).max(initial=0)))
    pulls = pulls_at(posts, wires, limits)
    inner, near, count = rows.inner, rows.near, rows.count
    tension, weight = pulls.tension_n[:, inner], pulls.weight_n_per_m[:, None]
    before = side_load(tension, weight, x[inner] - x[inner - 1], z[inner - 1] - z[inner])
    after = side_load(tension, weight, x[inner + 1] - x[inner], z[inner + 1] - z[inner])
    two_way, held = post_needs(before, after, pulls.limit_n)
    clips = np.where(two_way, parts.two_way_post, 0)
    if expected is not None:
        spread = load_spread(expected.error_m[inner], x[inner] - x[inner - 1], x[inner + 1] - x[inner])
        clips = clip_cost(before + after, tension, pulls.limit_n, spread, parts)
        two_way = clips >= parts.two_way_post
    breach = np.zeros(near.size, dtype=np.bool_) if low is None else np.asarray(low)
    if breach.shape != near.shape:
        message = f"low must say yes or no for each of {near.size} spans, but has shape {breach.shape}."
        raise MechanicsError(message)
    marks = np.ones(inner.size), two_way, held
    counts = [*(row_sums(rows.ordinal[inner], mark, count) for mark in marks)]
    counts.append(row_sums(rows.ordinal[near], breach, count))
    whole = ~posts.gaps
    # Whole numbers until the last division: the same sum whatever its order.
    of_counts = (parts.post, counts[0]), (parts.hold_down, counts[2]), (parts.breach, counts[3])
    total = sum((part * number.astype(np.int64) for part, number in of_counts), np.zeros(count, dtype=np.int64))
    np.add.at(total, rows.ordinal[inner], clips)
    named = [np.where(whole, number, np.nan) for number in (*counts, total / PARTS_PER_UNIT)]
    return RowCosts(*named)
