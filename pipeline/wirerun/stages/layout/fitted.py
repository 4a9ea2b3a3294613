"""Posts fitted to the ground: on the vines, where posts, two-way clips and hold-downs cost least together."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.row_ground import RowGround
from wirerun.geometry.station import Paths
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.section import axial_stiffness, weight_per_m
from wirerun.optimise.placing import SpanLimits, fit_posts
from wirerun.optimise.post_costs import FitPrices, PostLimits, RowCosts, WireLoad, row_costs
from wirerun.settings import Config, WireSettings

IntArray = NDArray[np.int64]
Stations = tuple[IntArray, FloatArray]


def place_fitted(
    rows: pd.DataFrame, ground: RowGround, choices: dict[str, Stations], config: Config
) -> tuple[Stations, list[Finding]]:
    """Posts of each row where they cost least, and never more than a simpler placing would.

    Chosen among the places of `choices["places"]` by dynamic programming, with each wire at its tension on the coldest
    day; a row for which another of the choices is cheaper, as equal spans off the vines may be, takes that one.

    Parameters
    ----------
    rows : DataFrame
        row_id, block_id.
    ground : RowGround
        Their lines and ground.
    choices : dict of stations
        "places": where posts may stand. All others: placings to compare with, by name.
    config : Config
        Span limits, wires, prices.

    Returns
    -------
    stations : row, station_m
        Of the posts, in order.
    findings : list of Finding
        What it saves against each other placing, and where most.
    """
    wires, limits, prices = _wires(config), _limits(config), _prices(config)
    places = choices["places"]
    stand = {name: _measured(ground, stations) for name, stations in choices.items()}
    clearance = _clearance(config)
    spans = SpanLimits(config.posts.min_span_m, config.posts.max_span_m)
    fit = fit_posts(stand["places"], spans, wires, limits, prices, clearance)
    fitted = places[0][fit.chosen], places[1][fit.chosen]
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
    stations = _mixed([fitted, *others.values()], source + 1)
    return stations, _savings(rows, ground.paths, best, costs)


def _measured(ground: RowGround, stations: Stations) -> tuple[FloatArray, FloatArray, IntArray]:
    row, station = stations
    return station, ground.stand(row, station)[2], row


def _mixed(choices: list[Stations], source: IntArray) -> Stations:
    """Stations of each row from the choice that `source` names."""
    row = np.concatenate([choice[0][source[choice[0]] == number] for number, choice in enumerate(choices)])
    station = np.concatenate([choice[1][source[choice[0]] == number] for number, choice in enumerate(choices)])
    order = np.lexsort((station, row))
    return row[order], station[order]


def _cold_tension(wire: WireSettings, config: Config) -> float:
    """Tension on the coldest day, held between its posts: by a hair too high, for the sag gives a little [N]."""
    stiffness = float(axial_stiffness(wire.diameter_mm, wire.youngs_modulus_gpa * 1e9))
    return wire.tension_n + stiffness * wire.expansion_per_k * (config.states.stringing_c - config.states.cold_c)


def _wires(config: Config) -> list[WireLoad]:
    return [
        WireLoad(
            _cold_tension(wire, config),
            float(weight_per_m(wire.diameter_mm, wire.density_kg_m3)),
            wire.lines,
            wire.holder == "clip",
        )
        for wire in config.wires
    ]


def _limits(config: Config) -> PostLimits:
    posts = config.posts
    return PostLimits(config.undulation.hold_down_n, posts.pull_out_n / posts.pull_out_factor)


def _prices(config: Config) -> FitPrices:
    prices = config.fitting
    return FitPrices(prices.post_price, prices.two_way_price, prices.hold_down_price, prices.breach_price)


def _clearance(config: Config) -> Clearance:
    lowest = min(config.wires, key=lambda wire: wire.height_m)
    weight = float(weight_per_m(lowest.diameter_mm, lowest.density_kg_m3))
    return Clearance(config.posts.least_clearance_m, lowest.height_m, lowest.tension_n, weight)


def _savings(rows: pd.DataFrame, paths: Paths, best: FloatArray, costs: dict[str, RowCosts]) -> list[Finding]:
    findings = []
    for name, cost in costs.items():
        known = np.isfinite(best) & np.isfinite(cost.cost)
        saved = np.where(known, cost.cost - best, 0.0)
        whole = float(cost.cost[known].sum())
        if not known.any() or whole <= 0.0:
            continue
        most = np.argsort(-saved, kind="stable")[:3]
        where = ", ".join(f"{rows['row_id'].iloc[row]} ({saved[row]:.2f})" for row in most if saved[row] > 0.0)
        findings.append(
            Finding(
                "fitted-saving",
                str(rows["block_id"].iloc[0]),
                f"Fitted posts cost {float(best[known].sum()):.2f}, {saved.sum():.2f} or "
                f"{100.0 * saved.sum() / whole:.1f} % less than placing = {name!r}, at the prices of [fitting] on "
                f"{paths.length_m.sum():.0f} m of row; most in {where or 'no row'}.",
            )
        )
    return findings
