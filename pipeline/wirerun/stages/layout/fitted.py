"""Posts fitted to the ground: on the vines, where posts, two-way clips and hold-downs are expected to cost least."""

from typing import NamedTuple

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import first_and_last
from wirerun.mechanics.clearance import Clearance
from wirerun.mechanics.load_posterior import KnownHeights, height_posterior
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Rows, Stations
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import Expected, FitPrices, PostLimits, WireLoad
from wirerun.rules.clip_positions import clip_positions
from wirerun.rules.post_prices import PostPrices, post_prices
from wirerun.rules.wire import wire_of
from wirerun.settings import Catalogue, Config, WireSettings
from wirerun.stages.layout.expected_cost import Priced, RowCost, expected_costs
from wirerun.stages.layout.two_placings import Standing, beside, known_of, known_together, stand
from wirerun.wording import many

# A row leaves its equal spans where that is expected to save so many two-way posts: less is within what the
# probabilities are good to, and worth nobody's while. Choice.
_LEAST_SAVED = 0.5
# Posts from which the ground between two of them is told.
_AROUND = 4


class Fitted(NamedTuple):
    """Where fitted posts stand, and the heights of the other placing, which tell of the ground too."""

    stations: Stations
    more: KnownHeights | None


def place_fitted(
    rows: Rows,
    ground: RowGround,
    vines: Stations,
    equal: Stations,
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> Fitted:
    """Posts of each row where they are expected to cost least, and never more than equal spans.

    Chosen among the vines by dynamic programming, each wire at its tension on the coldest day. A choice by heights
    takes what errors of the heights flatter. So it is made on the ground that the posts at equal spans tell of (their
    heights less the error that is expected of each, the ground between them a cubic through four of them), with what is
    left of that error: the heights at the vines themselves take no part. These are then new, and both placings are
    priced by the heights of both, weighed together. A row stays at equal spans unless it is expected to save half a
    two-way post.

    Which rows leave their equal spans is a choice, too, and takes what chance in the pricing flatters. So what they are
    expected to save is reckoned anew for the posts that were chosen, by the probabilities that the plan has of them.
    Where that is no more than one sigma of it, as chance makes clips missed or not, all rows stay at equal spans, and
    the plan is that of placing "equal": the other heights, which would move its probabilities, have no part in it.

    Parameters
    ----------
    rows : Rows
        The rows.
    ground : RowGround
        Their ground.
    vines : Stations
        Where posts may stand.
    equal : Stations
        The placing to compare with.
    config : Config
        Span limits, wires, clips, which prices override the catalogue's.
    catalogue : Catalogue
        Prices of posts and clips.
    notes : Findings
        Hears what it is expected to save, and where most.
    """
    prices = post_prices(config, catalogue)
    even = stand(rows, ground, equal, config)
    seen = Supports(vines.station_m, ground.stand(*vines)[1], vines.row)
    fit = fit_posts(
        seen,
        SpanLimits(config.posts.min_span_m, config.posts.max_span_m),
        _wires(config),
        _limits(config),
        _fit_prices(prices, config),
        _clearance(config),
        _expected(even, vines, config.clips.marking_m),
    )
    # A row that cannot be fitted keeps its equal spans.
    chosen = Stations(vines.row[fit.chosen], vines.station_m[fit.chosen])
    mixed = _mixed(chosen, equal, fit.fitted)
    other = stand(rows, ground, mixed, config)
    priced = Priced(_wires(config), _limits(config), _clearance(config), prices, _top(config), config)
    known, known_even = known_together(other, even)
    cost, cost_even = (
        expected_costs(posts, each, seen, priced) for posts, each in ((other.posts, known), (even.posts, known_even))
    )
    better = cost.total < cost_even.total - _LEAST_SAVED * prices.two_way
    stays = Fitted(equal, None)
    if not better.any():
        _note_savings(rows, better, better, cost, cost_even, notes)
        return stays
    final = _mixed(mixed, equal, better)
    more = beside(stand(rows, ground, _mixed(equal, mixed, better), config), final)
    ours, of_even = stand(rows, ground, final, config), beside(other, equal)
    cost, cost_even = (
        expected_costs(mine.posts, known_of(mine, more_of), seen, priced)
        for mine, more_of in ((ours, more), (even, of_even))
    )
    worth = _worth(cost, cost_even, better)
    _note_savings(rows, better, better & worth, cost, cost_even, notes)
    return Fitted(final, more) if worth else stays


def _worth(cost: RowCost, equal: RowCost, better: BoolArray) -> bool:
    """Whether what the rows that leave their equal spans save is more than one sigma of it."""
    saved, variance = (equal.total - cost.total)[better].sum(), (equal.variance + cost.variance)[better].sum()
    return bool(saved > np.sqrt(variance))


def _expected(standing: Standing, vines: Stations, marking_m: float) -> Expected:
    """The ground at the vines as the posts tell, and its error together with that of setting clips."""
    posts, errors = standing
    error, left = height_posterior(posts.place.stacked(), posts.feet, errors)
    first, last = first_and_last(posts.row)
    # One rising axis for all rows.
    lap = 1.0 + float(max(posts.station_m.max(), vines.station_m.max()))
    axis, at = posts.row * lap + posts.station_m, vines.row * lap + vines.station_m
    sigma = np.hypot(np.interp(at, axis, left), marking_m)
    begin = np.searchsorted(axis, at, side="right") - _AROUND // 2
    begin = begin.clip(first[vines.row], np.maximum(last[vines.row] - _AROUND + 1, first[vines.row]))
    around = begin[:, None] + np.arange(_AROUND)
    whole = around[:, -1] <= last[vines.row]
    height = posts.ground_m - error
    straight = np.interp(at, axis, height)
    around = np.minimum(around, len(axis) - 1)
    return Expected(np.where(whole, _through(axis[around], height[around], at), straight), sigma)


def _through(x: FloatArray, z: FloatArray, at: FloatArray) -> FloatArray:
    """The cubic through four points, [place, point], at a place (Lagrange's form)."""
    apart = x[:, :, None] - x[:, None, :]
    np.einsum("pii->pi", apart)[:] = 1.0
    reach = np.repeat((at[:, None] - x)[:, None, :], x.shape[1], axis=1)
    np.einsum("pii->pi", reach)[:] = 1.0
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (reach / apart).prod(axis=2)
    return np.asarray((share * z).sum(axis=1))


def _mixed(chosen: Stations, equal: Stations, takes: BoolArray) -> Stations:
    """Stations of the rows that take the choice, and equal ones of the others."""
    ours, theirs = takes[chosen.row], ~takes[equal.row]
    row = np.concatenate((chosen.row[ours], equal.row[theirs]))
    station = np.concatenate((chosen.station_m[ours], equal.station_m[theirs]))
    order: IntArray = np.lexsort((station, row))
    return Stations(row[order], station[order])


def _cold_tension(wire: WireSettings, config: Config) -> float:
    """Tension on the coldest day with it up, its posts fixed: by a hair too high, for the sag gives a bit [N]."""
    stiffness = float(wire_of(wire).axial_stiffness_n)
    return wire.tension_n + stiffness * wire.expansion_per_k * (
        config.states.stringing_c - config.states.coldest_c(wire.kind)
    )


def _wires(config: Config) -> list[WireLoad]:
    return [
        WireLoad(_cold_tension(wire, config), float(wire_of(wire).weight_n_per_m), wire.lines, wire.holder == "clip")
        for wire in config.wires
    ]


def _limits(config: Config) -> PostLimits:
    posts = config.posts
    return PostLimits(config.undulation.hold_down_n, posts.pull_out_n / posts.pull_out_factor)


def _fit_prices(prices: PostPrices, config: Config) -> FitPrices:
    lines = max(sum(wire.lines for wire in config.wires if wire.holder == "clip"), 1)
    given = config.fitting
    two_way, missed = prices.two_way / lines, prices.missed / lines
    return FitPrices(prices.post, two_way, given.hold_down_price, given.breach_price, missed)


def _top(config: Config) -> float:
    """Height of the highest clip on a post [m]."""
    inner = np.array([False, True, False])
    tall = np.full(3, config.posts.height_out_m)
    places = clip_positions(tall, config.clips, config.wires, np.zeros(3, dtype=np.int64), inner)
    clipped = np.array([wire.holder == "clip" for wire in config.wires])
    return float(np.where(places.used[clipped][:, 1].any(axis=0), places.height_m, 0.0).max(initial=0.0))


def _clearance(config: Config) -> Clearance:
    lowest = min(config.wires, key=lambda wire: wire.height_m)
    weight = float(wire_of(lowest).weight_n_per_m)
    return Clearance(config.posts.least_clearance_m, lowest.height_m, lowest.tension_n, weight)


def _note_savings(
    rows: Rows, fit: BoolArray, better: BoolArray, cost: RowCost, equal: RowCost, notes: Findings
) -> None:
    """Say what the rows save that leave their equal spans; if none do, what those would that fit better."""
    would = np.where(fit, equal.total - cost.total, 0.0)
    saved = np.where(better, would, 0.0)
    of_missed = float((equal.missed - cost.missed)[better].sum())
    whole = float(equal.total.sum())
    if whole <= 0.0:
        return
    most = np.flatnonzero(better)[np.argsort(-saved[better], kind="stable")][:3]
    where = ", ".join(f"{rows.row_id[row]} ({saved[row]:.2f})" for row in most)
    stay = ""
    if fit.any() and not better.any():
        chance = np.sqrt((equal.variance + cost.variance)[fit].sum())
        stay = f" {would.sum():.2f} in {many(int(fit.sum()), 'row')} would be within chance, which is {chance:.2f}."
    notes.note(
        "fitted-saving",
        f"Fitted posts are expected to cost {whole - saved.sum():.2f}, {saved.sum():.2f} or "
        f"{100.0 * saved.sum() / whole:.2g} % less than placing = 'equal', at the catalogue's prices on "
        f"{rows.paths.length_m.sum():.0f} m of row: {saved.sum() - of_missed:.2f} in what is ordered, "
        f"{of_missed:.2f} in two-way clips that are missed. {int(better.sum())} of {len(rows)} rows leave their "
        f"equal spans{f', for most in {where}' if where else ''}.{stay}",
    )
