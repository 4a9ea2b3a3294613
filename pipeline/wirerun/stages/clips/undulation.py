"""Where a wire pulls up: grade changes, the certainty that a two-way clip is needed, and undulating sections."""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wirerun.geometry.frame import FloatArray
from wirerun.ids import section_ids
from wirerun.mechanics.undulation import grade_changes, load_sigma, need_probability
from wirerun.settings import CERTAINTY, ElevationSettings, UndulationSettings, WireSettings
from wirerun.tables import STATES

IntArray = NDArray[np.int64]


def judge_need(
    posts: pd.DataFrame, loads: pd.DataFrame, elevation: ElevationSettings, undulation: UndulationSettings
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Grade change of every post, and probability and certainty that each clip must hold the wire down.

    The error of the ground heights goes through to the load: three neighbouring heights, correlated and smoothed. The
    probability of a clip is that of its worst state: one error of the ground stands behind all of them.

    Parameters
    ----------
    posts : DataFrame
        row, run_m, ground_m, turn_rad, and bridged_error_m, the error of a height bridged over a hole, NaN elsewhere.
    loads : DataFrame
        wire_id, post, and for each state load_<state>_n and tension_<state>_n, NaN where a wire has no such state.
    elevation : ElevationSettings
        Accuracy, correlation and smoothing of the heights.
    undulation : UndulationSettings
        Upward pull that a one-way clip still holds.

    Returns
    -------
    posts : DataFrame
        With grade_change_pct.
    loads : DataFrame
        With load_min_n and load_max_n over all states, probability_<state> for each, need_probability (NaN where the
        load is not known), certainty (None there) and load_side_n, the sideways load in a curved row.
    """
    station, ground, row = (posts[name].to_numpy() for name in ("run_m", "ground_m", "row"))
    posts = posts.assign(grade_change_pct=100.0 * grade_changes(station, ground, row))
    # The load's error is in proportion to the tension: find it once at 1 N.
    per_newton = load_sigma(
        station,
        ground,
        row,
        1.0,
        elevation.accuracy_m,
        elevation.correlation_m,
        elevation.smoothing_m,
        posts["bridged_error_m"].to_numpy(),
    )[loads["post"].to_numpy()]
    probability = {
        f"probability_{state}": need_probability(
            loads[f"load_{state}_n"].to_numpy(),
            per_newton * loads[f"tension_{state}_n"].to_numpy(),
            undulation.hold_down_n,
        )
        for state in STATES
    }
    tightest = _over_states(np.fmax, [loads[f"tension_{state}_n"].to_numpy() for state in STATES])
    need = _over_states(np.fmax, list(probability.values()))
    least = [loads[f"load_{state}_n"].to_numpy() for state in STATES]
    most = [*least, loads["load_most_lifted_n"].to_numpy()]
    return posts, loads.assign(
        **probability,
        load_min_n=_over_states(np.fmin, least),
        load_max_n=_over_states(np.fmax, most),
        need_probability=need,
        certainty=_certainty(need),
        load_side_n=tightest * 2.0 * np.sin(posts["turn_rad"].to_numpy()[loads["post"].to_numpy()] / 2.0),
    )


def find_sections(
    posts: pd.DataFrame, loads: pd.DataFrame, wires: tuple[WireSettings, ...], undulation: UndulationSettings
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Undulating sections: runs of posts on which a two-way clip is planned, joined across small gaps.

    Wires held by staples are held both ways already and make no section.

    Parameters
    ----------
    posts : DataFrame
        post_id, row_id, row, station_m, grade_change_pct.
    loads : DataFrame
        wire_id, post, load_min_n, need_probability.
    wires : tuple of WireSettings
        Which wires are held by clips.
    undulation : UndulationSettings
        From which certainty on to plan, and the gap to join.

    Returns
    -------
    posts : DataFrame
        With section_id, None outside sections.
    sections : DataFrame
        The columns of `tables.SECTIONS`, and start_m and end_m, the stations where the section begins and ends.
    """
    clipped = loads[loads["wire_id"].isin([wire.id for wire in wires if wire.holder == "clip"])]
    probability, pull_up = np.zeros(len(posts)), np.zeros(len(posts))
    np.fmax.at(probability, clipped["post"].to_numpy(), clipped["need_probability"].to_numpy())
    np.fmax.at(pull_up, clipped["post"].to_numpy(), -clipped["load_min_n"].to_numpy())
    row = posts["row"].to_numpy()
    first, last = _runs(probability >= undulation.planned_from, row, undulation.join_posts)
    ids = section_ids(posts["row_id"].to_numpy()[first])
    section_id = np.full(len(posts), None, dtype=object)
    count = last - first + 1
    member = np.repeat(first, count) + np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    section_id[member] = np.repeat(ids, count)
    station, grade_change = posts["station_m"].to_numpy(), posts["grade_change_pct"].to_numpy()
    start, end = (station[first - 1] + station[first]) / 2.0, (station[last] + station[last + 1]) / 2.0
    starts = np.cumsum(count) - count
    sections = pd.DataFrame(
        {
            "section_id": ids,
            "row_id": posts["row_id"].to_numpy()[first],
            "row": row[first],
            "from_post": posts["post_id"].to_numpy()[first],
            "to_post": posts["post_id"].to_numpy()[last],
            "start_m": start,
            "end_m": end,
            "length_m": end - start,
            "posts": count,
            "greatest_pull_up_n": _greatest(pull_up[member], starts),
            "greatest_grade_change_pct": _greatest(grade_change[member], starts),
        }
    )
    return posts.assign(section_id=section_id), sections


def _over_states(choose: np.ufunc, values: list[FloatArray]) -> FloatArray:
    """Least or greatest over the states a wire has; NaN only where it has none."""
    return np.asarray(choose.reduce(values))


def _certainty(probability: FloatArray) -> NDArray[np.object_]:
    names = np.array(list(CERTAINTY), dtype=object)
    least = np.array(list(CERTAINTY.values()))
    known = np.where(np.isnan(probability), 0.0, probability)
    named: NDArray[np.object_] = names[(known[:, None] >= least).argmax(axis=1)]
    named[np.isnan(probability)] = None
    return named


def _runs(need: NDArray[np.bool_], row: IntArray, join: int) -> tuple[IntArray, IntArray]:
    """First and last post of each run of need within a row, across gaps of at most `join` posts."""
    at = np.flatnonzero(need)
    if not len(at):
        return at, at
    breaks = (np.diff(at) > join + 1) | (np.diff(row[at]) != 0)
    return at[np.concatenate([[True], breaks])], at[np.concatenate([breaks, [True]])]


def _greatest(values: FloatArray, starts: IntArray) -> FloatArray:
    return np.maximum.reduceat(values, starts) if len(starts) else np.empty(0)
