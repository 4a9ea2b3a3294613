"""Posts fitted to the ground: on the vines, where posts, two-way clips and hold-downs cost least together."""

from collections.abc import Mapping

import numpy as np

from wirerun.arrays import FloatArray, IntArray
from wirerun.findings import Findings
from wirerun.geometry.row_ground import RowGround
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.supports import Supports
from wirerun.model.layout import Rows, Stations
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import FitPrices, PostLimits, RowCosts, WireLoad, row_costs
from wirerun.rules.post_prices import post_prices
from wirerun.rules.wire import wire_of
from wirerun.settings import Catalogue, Config, WireSettings


def place_fitted(
    rows: Rows,
    ground: RowGround,
    choices: Mapping[str, Stations],
    config: Config,
    catalogue: Catalogue,
    notes: Findings,
) -> Stations:
    """Posts of each row where they cost least, and never more than a simpler placing would.

    Chosen among the places of `choices["places"]` by dynamic programming, with each wire at its tension on the coldest
    day; a row for which another of the choices is cheaper, as equal spans off the vines may be, takes that one.

    Parameters
    ----------
    rows : Rows
        The rows.
    ground : RowGround
        Their ground.
    choices : mapping of stations
        "places": where posts may stand. All others: placings to compare with, by name.
    config : Config
        Span limits, wires, prices.
    catalogue : Catalogue
        Prices of posts and clips.
    notes : Findings
        Hears what it saves against each other placing, and where most.
    """
    wires, limits, prices = _wires(config), _limits(config), _prices(config, catalogue)
    places = choices["places"]
    stand = {name: _measured(ground, stations) for name, stations in choices.items()}
    clearance = _clearance(config)
    spans = SpanLimits(config.posts.min_span_m, config.posts.max_span_m)
    fit = fit_posts(stand["places"], spans, wires, limits, prices, clearance)
    fitted = Stations(places.row[fit.chosen], places.station_m[fit.chosen])
    others = {name: stations for name, stations in choices.items() if name != "places"}
    costs = {}
    for name in others:
        low = low_spans(stand[name], stand["places"], clearance)
        costs[name] = row_costs(stand[name], low, wires, limits, prices)
    cheapest = np.where(fit.fitted, fit.cost, np.inf)
    best, source = cheapest.copy(), np.full(len(cheapest), -1)
    for number, name in enumerate(others):
        other = np.nan_to_num(costs[name].cost, nan=np.inf)
        source = np.where(other < best, number, source)
        best = np.minimum(best, other)
    # A row without heights can be priced by nothing; it takes the first of the other placings.
    source = np.where(np.isinf(best), 0, source)
    _note_savings(rows, best, costs, notes)
    return _mixed([fitted, *others.values()], source + 1)


def _measured(ground: RowGround, stations: Stations) -> Supports:
    row, station = stations
    return Supports(station, ground.stand(row, station)[1], row)


def _mixed(choices: list[Stations], source: IntArray) -> Stations:
    """Stations of each row from the choice that `source` names."""
    row = np.concatenate([choice[0][source[choice[0]] == number] for number, choice in enumerate(choices)])
    station = np.concatenate([choice[1][source[choice[0]] == number] for number, choice in enumerate(choices)])
    order = np.lexsort((station, row))
    return Stations(row[order], station[order])


def _cold_tension(wire: WireSettings, config: Config) -> float:
    """Tension on the coldest day, held between its posts: by a hair too high, for the sag gives a little [N]."""
    stiffness = float(wire_of(wire).axial_stiffness_n)
    return wire.tension_n + stiffness * wire.expansion_per_k * (config.states.stringing_c - config.states.cold_c)


def _wires(config: Config) -> list[WireLoad]:
    return [
        WireLoad(_cold_tension(wire, config), float(wire_of(wire).weight_n_per_m), wire.lines, wire.holder == "clip")
        for wire in config.wires
    ]


def _limits(config: Config) -> PostLimits:
    posts = config.posts
    return PostLimits(config.undulation.hold_down_n, posts.pull_out_n / posts.pull_out_factor)


def _prices(config: Config, catalogue: Catalogue) -> FitPrices:
    of_post, given = post_prices(config, catalogue), config.fitting
    lines = sum(wire.lines for wire in config.wires if wire.holder == "clip")
    return FitPrices(of_post.post, of_post.two_way / max(lines, 1), given.hold_down_price, given.breach_price)


def _clearance(config: Config) -> Clearance:
    lowest = min(config.wires, key=lambda wire: wire.height_m)
    weight = float(wire_of(lowest).weight_n_per_m)
    return Clearance(config.posts.least_clearance_m, lowest.height_m, lowest.tension_n, weight)


def _note_savings(rows: Rows, best: FloatArray, costs: dict[str, RowCosts], notes: Findings) -> None:
    for name, cost in costs.items():
        known = np.isfinite(best) & np.isfinite(cost.cost)
        saved = np.where(known, cost.cost - best, 0.0)
        whole = float(cost.cost[known].sum())
        if not known.any() or whole <= 0.0:
            continue
        most = np.argsort(-saved, kind="stable")[:3]
        where = ", ".join(f"{rows.row_id[row]} ({saved[row]:.2f})" for row in most if saved[row] > 0.0)
        notes.note(
            "fitted-saving",
            f"Fitted posts cost {float(best[known].sum()):.2f}, {saved.sum():.2f} or "
            f"{100.0 * saved.sum() / whole:.1f} % less than placing = {name!r}, at the prices of [fitting] on "
            f"{rows.paths.length_m.sum():.0f} m of row; most in {where or 'no row'}.",
        )
