"""What the posts of each row are expected to cost, as the heights of all posts tell: two placings compared."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import FloatArray
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.load_posterior import LoadPosterior
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Posts
from wirerun.optimise.post_costs import PostLimits, WireLoad, pulls_at, side_load
from wirerun.rules.levelling import Hung, room_for_steps
from wirerun.rules.post_prices import PostPrices
from wirerun.rules.sections import runs, within
from wirerun.settings import Config


class Priced(NamedTuple):
    """What decides the cost of a row of posts."""

    wires: list[WireLoad]
    limits: PostLimits
    clearance: Clearance
    prices: PostPrices
    top_m: float
    config: Config


class RowCost(NamedTuple):
    """Cost of each row that is expected, and the part of it that two-way clips missed make, [row] [currency].

    `variance` is that of the cost, each post by itself: a clip is missed or not.
    """

    total: FloatArray
    missed: FloatArray
    variance: FloatArray


def expected_costs(posts: Posts, known: LoadPosterior, ground: Supports, priced: Priced) -> RowCost:
    """Cost of each row that is expected.

    Posts, two-way clips where they are planned, those that join sections among them, missed ones by their probability
    elsewhere, shifts where clips are levelled, posts held down, spans too near the ground.

    Parameters
    ----------
    posts : Posts
        Where they stand.
    known : LoadPosterior
        Error of the load on each clip at 1 N of tension.
    ground : Supports
        Points of the rows' ground that wires must keep off.
    priced : Priced
        Wires on the coldest day, what posts and clips withstand, prices.
    """
    feet, inner, config = posts.feet, posts.middle, priced.config
    pulls = pulls_at(feet, priced.wires, priced.limits)
    tension, weight = pulls.tension_n[:, inner], pulls.weight_n_per_m[:, None]
    x, z = feet.x_m, feet.z_m
    load = side_load(tension, weight, x[inner] - x[inner - 1], z[inner - 1] - z[inner])
    load += side_load(tension, weight, x[inner + 1] - x[inner], z[inner + 1] - z[inner])
    spare = np.full(len(posts), np.nan)
    spare[inner] = ((pulls.limit_n[:, None] + load)[:-1] / tension[:-1]).min(axis=0, initial=np.inf)
    hung = Hung.on(feet, spare, config.clips.level_m, config.clips.marking_m)
    chance, steps = hung.chance(known), np.zeros(len(posts), dtype=np.int64)
    if hung.most:
        room = room_for_steps(np.full(len(posts), priced.top_m), np.full(len(posts), config.posts.height_out_m))
        steps = hung.level(feet, chance, room, priced.prices)
    need = hung.at_steps(chance, steps)
    asks = (need >= config.undulation.planned_from) & ~posts.is_end
    planned = within(*runs(asks, posts.row, config.undulation.join_posts), len(posts))
    missed = np.where(planned, 0.0, priced.prices.missed * need)
    clips = missed + priced.prices.two_way * planned + priced.prices.shift * (steps != 0)
    held = load[-1] < -pulls.limit_n[-1]
    low = low_spans(feet, ground, priced.clearance)
    rows, count = posts.row, len(posts.rows)
    cost = row_sums(rows[inner], priced.prices.post + clips[inner] + config.fitting.hold_down_price * held, count)
    total = cost + config.fitting.breach_price * row_sums(rows[posts.near], low, count)
    variance = np.where(planned, 0.0, priced.prices.missed**2 * need * (1.0 - need))
    return RowCost(total, row_sums(rows, missed, count), row_sums(rows, variance, count))
