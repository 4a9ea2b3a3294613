"""The wires strung tight: lengths, tensions and sag of every span, load of every clip, clearance to the ground."""

import numpy as np
import pandas as pd

from wirerun.errors import MechanicsError, SettingError
from wirerun.findings import Finding, name_some
from wirerun.geometry.frame import FloatArray
from wirerun.geometry.station import first_and_last
from wirerun.ids import span_ids
from wirerun.mechanics.chain import Chain, solve_chain
from wirerun.mechanics.friction import ADVICE, strain_advice
from wirerun.mechanics.section import axial_stiffness, weight_per_m
from wirerun.settings import Config, StateSettings, WireSettings


def string_tight(
    posts: pd.DataFrame, humps_m: FloatArray, config: Config
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[Finding]]:
    """Every wire of every row in its tight state.

    Each wire is one piece that slides over its supports, stapled at its height above ground to both end posts, with the
    set tension at the row's first post. Lengths, loads and tensions are without friction; what friction in the clips
    keeps from the far end is told in `far_end_tension_n` and `strain_from`.

    Parameters
    ----------
    posts : DataFrame
        post_id, row_id, block_id, row, kind, run_m, turn_rad, ground_m.
    humps_m : shape (spans, places)
        Ground above the line between the posts' feet, at equal parts of each span. [m]
    config : Config
        The wires, friction and the share of the tension that must reach the far end, and the least clearance.

    Returns
    -------
    spans : DataFrame
        The columns of `tables.SPANS`, and `from_index`, the position of the span's first post in `posts`.
    loads : DataFrame
        post_id, row_id, wire_id, post (position in `posts`), load_tight_n, tension_tight_n: intermediate posts.
    totals : DataFrame
        A line per row and wire: row, lines, lengths, weight_n_per_m, stiffness_n, tensions at both ends, and the
        horizontal pull on both end posts (pull_start_tight_n, pull_far_tight_n).
    findings : list of Finding
        Wires too close to the ground; where friction asks for more than one straining end.

    Raises
    ------
    SettingError
        If a wire's tension is too low to carry a span.
    """
    states = config.states
    chains = [(wire, _chain(posts, wire)) for wire in config.wires]
    spans = pd.concat([_spans(posts, humps_m, wire, chain) for wire, chain in chains], ignore_index=True)
    loads = pd.concat([_loads(posts, wire, chain) for wire, chain in chains], ignore_index=True)
    totals = pd.concat([_totals(posts, wire, chain, states) for wire, chain in chains], ignore_index=True)
    block_id = str(posts["block_id"].iloc[0])
    findings = [
        *_too_low(block_id, spans, config.posts.least_clearance_m),
        *_hard_sliding(block_id, totals, states),
    ]
    return spans, loads, totals, findings


def _chain(posts: pd.DataFrame, wire: WireSettings) -> Chain:
    try:
        return solve_chain(
            posts["run_m"].to_numpy(),
            posts["ground_m"].to_numpy() + wire.height_m,
            posts["row"].to_numpy(),
            wire.tension_n,
            weight_per_m(wire.diameter_mm, wire.density_kg_m3),
            axial_stiffness(wire.diameter_mm, wire.youngs_modulus_gpa * 1e9),
        )
    except MechanicsError as error:
        place = f"wires.{wire.id}.tension_n = {wire.tension_n:g}"
        raise SettingError(place, f"the wire cannot be strung: {error}") from error


def _spans(posts: pd.DataFrame, humps_m: FloatArray, wire: WireSettings, chain: Chain) -> pd.DataFrame:
    near = chain.span_from
    first, second = posts.iloc[near], posts.iloc[near + 1]
    run = second["run_m"].to_numpy() - first["run_m"].to_numpy()
    rise = second["ground_m"].to_numpy() - first["ground_m"].to_numpy()
    share = np.linspace(0.0, 1.0, humps_m.shape[1])
    # The wire hangs below its chord as a parabola: at trellis tensions that is the catenary to the micrometre.
    gap = wire.height_m - 4.0 * chain.spans.sag_m[:, None] * share * (1.0 - share) - humps_m
    return pd.DataFrame(
        {
            "span_id": span_ids(first["post_id"]),
            "row_id": first["row_id"].to_numpy(),
            "wire_id": wire.id,
            "from_post": first["post_id"].to_numpy(),
            "to_post": second["post_id"].to_numpy(),
            "from_index": near,
            "horizontal_m": run,
            "rise_m": rise,
            "grade_pct": 100.0 * rise / run,
            "chord_m": np.hypot(run, rise),
            "wire_m": chain.spans.stretched_m,
            "cut_m": chain.spans.unstretched_m,
            "sag_mm": 1000.0 * chain.spans.sag_m,
            "tension_start_n": chain.spans.tension_start_n,
            "tension_end_n": chain.spans.tension_end_n,
            "clearance_m": gap.min(axis=1),
        }
    )


def _loads(posts: pd.DataFrame, wire: WireSettings, chain: Chain) -> pd.DataFrame:
    middle = np.flatnonzero(posts["kind"].to_numpy() == "intermediate")
    return pd.DataFrame(
        {
            "post_id": posts["post_id"].to_numpy()[middle],
            "row_id": posts["row_id"].to_numpy()[middle],
            "wire_id": wire.id,
            "post": middle,
            "load_tight_n": chain.clip_load_n[middle],
            "tension_tight_n": chain.support_tension_n[middle],
        }
    )


def _totals(posts: pd.DataFrame, wire: WireSettings, chain: Chain, states: StateSettings) -> pd.DataFrame:
    row = posts["row"].to_numpy()
    first, last = first_and_last(row)
    of_span = row[chain.span_from]
    first_span, last_span = first_and_last(of_span)
    cut = np.bincount(of_span, weights=chain.spans.unstretched_m)
    advice = strain_advice(
        chain, row, states.friction, states.min_far_tension, plan_turn_rad=posts["turn_rad"].to_numpy()
    )
    said = np.array([*ADVICE, None], dtype=object)[advice.advice]  # -1, the last, where heights are missing
    return pd.DataFrame(
        {
            "row_id": posts["row_id"].to_numpy()[last],
            "block_id": posts["block_id"].to_numpy()[last],
            "row": row[last],
            "wire_id": wire.id,
            "wire_item": wire.item,
            "lines": wire.lines,
            "weight_n_per_m": float(weight_per_m(wire.diameter_mm, wire.density_kg_m3)),
            "stiffness_n": float(axial_stiffness(wire.diameter_mm, wire.youngs_modulus_gpa * 1e9)),
            "cut_m_per_line": cut,
            "tails_m_per_line": 2.0 * wire.tail_m,
            "tension_n": wire.tension_n,
            "far_end_tension_n": advice.far_end_n,
            "strain_from": said,
            "kept_share": advice.one_end_share,
            "row_length_m": posts["run_m"].to_numpy()[last],
            "start_tight_n": chain.support_tension_n[first],
            "far_tight_n": chain.support_tension_n[last],
            "pull_start_tight_n": chain.spans.horizontal_n[first_span],
            "pull_far_tight_n": chain.spans.horizontal_n[last_span],
        }
    )


def _too_low(block_id: str, spans: pd.DataFrame, least_m: float) -> list[Finding]:
    low = spans[spans["clearance_m"] < least_m]
    return [
        Finding(
            "low-clearance",
            block_id,
            f"Wire {wire_id} comes closer to the ground than {least_m:g} m in {len(group)} span(s), down to "
            f"{group['clearance_m'].min():.2f} m (below 0 it touches): {name_some(group['span_id'])}.",
        )
        for wire_id, group in low.groupby("wire_id", sort=True)
    ]


def _hard_sliding(block_id: str, totals: pd.DataFrame, states: StateSettings) -> list[Finding]:
    findings = []
    for wire_id, mine in totals.groupby("wire_id", sort=True):
        hard = mine[mine["kept_share"] < states.min_far_tension]
        if hard.empty:
            continue
        both, middle = ((hard["strain_from"] == way).sum() for way in ("both ends", "middle"))
        findings.append(
            Finding(
                "strain-from",
                block_id,
                f"Strained from one end, wire {wire_id} keeps less than {100.0 * states.min_far_tension:.0f} % of its "
                f"tension at the far end in {len(hard)} row(s) of {hard['row_length_m'].min():.0f} to "
                f"{hard['row_length_m'].max():.0f} m, down to {100.0 * hard['kept_share'].min():.0f} %; strain {both} "
                f"from both ends and {middle} from the middle: {name_some(hard['row_id'])}.",
            )
        )
    return findings
