"""The wires through the season: cold and hot, and lifted from clip to clip."""

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.station import first_and_last
from wirerun.mechanics.chain import Chain, solve_chain, unstretched_totals
from wirerun.mechanics.season import WireState, chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.rules.wire import wire_of
from wirerun.settings import ClipSettings, StateSettings, WireSettings
from wirerun.tables import LIFTS, empty

_SAME_HEIGHT_M: Final = 1e-3


def warm_and_cool(
    posts: pd.DataFrame,
    loads: pd.DataFrame,
    totals: pd.DataFrame,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
) -> tuple[pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Cold and hot states of every wire: the strung length, shorter or longer by the change of temperature.

    Parameters
    ----------
    posts : DataFrame
        row, run_m, ground_m.
    loads, totals : DataFrame
        As the wires stage leaves them.
    wires : tuple of WireSettings
        Expansion.
    states : StateSettings
        Temperatures.

    Returns
    -------
    loads : DataFrame
        With load_<state>_n and tension_<state>_n for cold and hot.
    totals : DataFrame
        With start_<state>_n (and again as <state>_tension_n) and far_<state>_n, the tension at both ends, and
        pull_start_<state>_n and pull_far_<state>_n, the horizontal pull on the end posts.
    findings : list of Finding
        Rows whose wire goes slack in the heat.
    """
    feet = _feet(posts)
    findings: list[Finding] = []
    for state, celsius in (("cold", states.cold_c), ("hot", states.hot_c)):
        parts = []
        for wire in wires:
            mine = totals[totals["wire_id"] == wire.id]
            length = warmed(wire_of(wire), mine["cut_m_per_line"].to_numpy(), celsius - states.stringing_c)
            part = chain_at_length(feet.at_heights(feet.z_m + wire.height_m), wire_of(wire), length)
            findings += _slack(mine, part, wire, state)
            parts.append(part.chain)
        loads, totals = _add_state(posts, loads, totals, parts, state)
        totals = totals.assign(**{f"{state}_tension_n": totals[f"start_{state}_n"]})
    return loads, totals, findings


def lift(
    posts: pd.DataFrame,
    loads: pd.DataFrame,
    totals: pd.DataFrame,
    wires: tuple[WireSettings, ...],
    clips: ClipSettings,
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Lifted states of the foliage wires: fast at their own height on the end posts, higher on the intermediates.

    A row with an adjuster is let out until the set tension is back; any other keeps its length and gets tighter.
    Lifting happens at the stringing temperature.

    Parameters
    ----------
    posts : DataFrame
        row, run_m, ground_m.
    loads, totals : DataFrame
        As `warm_and_cool` leaves them, totals with take_up_mm.
    wires : tuple of WireSettings
        Heights and lift positions.
    clips : ClipSettings
        Clip positions on the posts.

    Returns
    -------
    loads : DataFrame
        With load_lifted_n and tension_lifted_n in the position that pulls up most, and load_most_lifted_n, the
        greatest load of all positions; NaN for wires that are not lifted.
    totals : DataFrame
        With start_lifted_n, far_lifted_n, pull_start_lifted_n and pull_far_lifted_n: the greatest of all positions.
    lifts : DataFrame
        The columns of `tables.LIFTS`: each row, wire and position by itself.
    findings : list of Finding
        What the first and last intermediate posts bear of a lifted wire.
    """
    loads = loads.assign(load_lifted_n=np.nan, tension_lifted_n=np.nan, load_most_lifted_n=np.nan)
    ends = ["start_lifted_n", "far_lifted_n", "pull_start_lifted_n", "pull_far_lifted_n"]
    totals = totals.assign(**dict.fromkeys(ends, np.nan))
    feet, positions, findings = _feet(posts), [empty(LIFTS)], []
    for wire in wires:
        mine, of_wire = totals["wire_id"] == wire.id, (loads["wire_id"] == wire.id).to_numpy()
        at = loads["post"].to_numpy()[of_wire]
        heights = lift_heights(wire, wires, clips)
        for height in heights:
            chain = _lifted(feet, totals[mine], wire, height)
            load, tension = chain.clip_load_n[at], chain.support_tension_n[at]
            least = loads.loc[of_wire, "load_lifted_n"].to_numpy()
            lower = (load < least) | np.isnan(least)
            loads.loc[of_wire, "tension_lifted_n"] = np.where(lower, tension, loads.loc[of_wire, "tension_lifted_n"])
            loads.loc[of_wire, "load_lifted_n"] = np.fmin(load, least)
            loads.loc[of_wire, "load_most_lifted_n"] = np.fmax(load, loads.loc[of_wire, "load_most_lifted_n"])
            for name, value in zip(ends, _at_ends(posts, chain), strict=True):
                totals.loc[mine, name] = np.fmax(value, totals.loc[mine, name])
            positions.append(_position(posts, chain, wire.id, height))
        if heights:
            findings += _borne(str(posts["block_id"].iloc[0]), loads[of_wire], wire, heights)
    return loads, totals, pd.concat(positions, ignore_index=True), findings


def lift_heights(wire: WireSettings, wires: tuple[WireSettings, ...], clips: ClipSettings) -> tuple[float, ...]:
    """Heights on the intermediate posts that a wire is lifted to, its own left out [m].

    Without word from the config: the clip positions from the wire's own height up to the next foliage wire's, that one
    left out. With wires at 1.2 and 1.5 m and clips at 0.95, 1.20, 1.45 and 1.70 m these are 1.45 m for the lower and
    1.70 m for the upper.
    """
    if wire.kind != "foliage":
        return ()
    if wire.lifts_m is not None:
        wanted = wire.lifts_m
    else:
        above = [other.height_m for other in wires if other.kind == "foliage" and other.height_m > wire.height_m]
        positions = (clips.lowest_m + clips.spacing_m * step for step in range(clips.most))
        wanted = tuple(p for p in positions if wire.height_m < p < min(above, default=np.inf))
    return tuple(height for height in wanted if abs(height - wire.height_m) > _SAME_HEIGHT_M)


def _feet(posts: pd.DataFrame) -> Supports:
    return Supports(posts["run_m"].to_numpy(), posts["ground_m"].to_numpy(), posts["row"].to_numpy())


def _lifted(feet: Supports, mine: pd.DataFrame, wire: WireSettings, height_m: float) -> Chain:
    """State with the wire on the intermediates at one height; rows with an adjuster back at the set tension."""
    supports = feet.at_heights(feet.z_m + np.where(feet.rows.ends, wire.height_m, height_m))
    back = solve_chain(supports, wire_of(wire), wire.tension_n)
    adjusted = mine["take_up_mm"].to_numpy() > 0.0
    length = np.where(adjusted, unstretched_totals(back), mine["cut_m_per_line"].to_numpy())
    return chain_at_length(supports, wire_of(wire), length).chain


def _add_state(
    posts: pd.DataFrame, loads: pd.DataFrame, totals: pd.DataFrame, chains: list[Chain], state: str
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Add the columns of one state, chains given in the order of the wires."""
    middle = np.flatnonzero((posts["kind"] == "intermediate").to_numpy())
    names = [f"start_{state}_n", f"far_{state}_n", f"pull_start_{state}_n", f"pull_far_{state}_n"]
    ends = np.concatenate([np.array(_at_ends(posts, chain)) for chain in chains], axis=1)
    return (
        loads.assign(
            **{
                f"load_{state}_n": np.concatenate([chain.clip_load_n[middle] for chain in chains]),
                f"tension_{state}_n": np.concatenate([chain.support_tension_n[middle] for chain in chains]),
            }
        ),
        totals.assign(**dict(zip(names, ends, strict=True))),
    )


def _at_ends(posts: pd.DataFrame, chain: Chain) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Tension at the first and last post of each row, and horizontal pull on them; shape (rows,) each [N]."""
    row = posts["row"].to_numpy()
    first, last = first_and_last(row)
    of_span: NDArray[np.int64] = row[chain.span_from]
    first_span, last_span = first_and_last(of_span)
    pull = chain.spans.horizontal_n
    return chain.support_tension_n[first], chain.support_tension_n[last], pull[first_span], pull[last_span]


def _position(posts: pd.DataFrame, chain: Chain, wire_id: str, height_m: float) -> pd.DataFrame:
    """One lift position of one wire, a line per row; loads are empty in rows of one span."""
    start, far, _, _ = _at_ends(posts, chain)
    by_row = pd.Series(chain.clip_load_n).groupby(posts["row"].to_numpy())
    row_ids = posts.groupby("row")["row_id"].first().to_numpy()
    return pd.DataFrame(
        {
            "row_id": row_ids,
            "wire_id": wire_id,
            "height_m": height_m,
            "tension_n": start,
            "far_tension_n": far,
            "first_load_n": by_row.first().to_numpy(),  # the first that is known: the end post itself has none
            "last_load_n": by_row.last().to_numpy(),
            "load_min_n": by_row.min().to_numpy(),
            "load_max_n": by_row.max().to_numpy(),
        }
    )


def _slack(mine: pd.DataFrame, part: WireState, wire: WireSettings, state: str) -> list[Finding]:
    rows = mine["row_id"].to_numpy()[part.too_long]
    if not len(rows):
        return []
    return [
        Finding(
            "slack-wire",
            str(mine["block_id"].iloc[0]),
            f"Wire {wire.id} hangs loose when {state} in {len(rows)} row(s): {name_some(rows)}.",
        )
    ]


def _borne(block_id: str, loads: pd.DataFrame, wire: WireSettings, heights: tuple[float, ...]) -> list[Finding]:
    most = loads["load_most_lifted_n"]
    if not most.notna().any():
        return []
    where = loads.loc[most.idxmax()]
    return [
        Finding(
            "lift-load",
            block_id,
            f"Lifted to {', '.join(f'{h:.2f}' for h in heights)} m, wire {wire.id} bears down most next to the end "
            f"posts, where it comes up from {wire.height_m:.2f} m: up to {most.max():.0f} N a line, at "
            f"{where['post_id']}.",
        )
    ]
