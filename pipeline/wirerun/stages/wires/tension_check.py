"""What a rightly strung wire shows in the field: sag and give of a span, at the temperature of the day."""

import numpy as np
import pandas as pd

from wirerun.geometry.station import first_and_last
from wirerun.mechanics.gauge import mid_span_deflection
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.settings import CheckSettings, StateSettings, WireSettings


def tension_sheet(
    posts: pd.DataFrame,
    totals: pd.DataFrame,
    wires: tuple[WireSettings, ...],
    states: StateSettings,
    check: CheckSettings,
) -> pd.DataFrame:
    """Sag and sideways give of the middle span of every row and wire, by temperature.

    The wire slides in its clips when pushed, so all of the row's wire shares the stretch.

    Parameters
    ----------
    posts : DataFrame
        row, run_m, ground_m.
    totals : DataFrame
        row_id, wire_id, cut_m_per_line, weight_n_per_m, stiffness_n.
    wires : tuple of WireSettings
        Heights and expansion.
    states : StateSettings
        Stringing temperature.
    check : CheckSettings
        Temperatures of the sheet and the side force.

    Returns
    -------
    DataFrame
        The columns of `tables.TENSION_CHECK`; empty numbers where a wire hangs loose or is not known.
    """
    row, station = posts["row"].to_numpy(), posts["run_m"].to_numpy()
    near = np.flatnonzero(np.diff(row) == 0)
    first, last = first_and_last(row[near])
    middle = (first + last + 1) // 2  # of an even number of spans the one behind the middle
    run = station[near + 1] - station[near]
    chord = np.hypot(run, posts["ground_m"].to_numpy()[near + 1] - posts["ground_m"].to_numpy()[near])
    along = np.bincount(row[near], weights=chord).astype(np.float64)
    parts = []
    for wire in wires:
        mine = totals[totals["wire_id"] == wire.id]
        weight, stiffness = float(mine["weight_n_per_m"].iloc[0]), float(mine["stiffness_n"].iloc[0])
        for celsius in check.temperatures_c:
            cut = warmed(mine["cut_m_per_line"].to_numpy(), wire.expansion_per_k, celsius - states.stringing_c)
            state = chain_at_length(station, posts["ground_m"].to_numpy() + wire.height_m, row, cut, weight, stiffness)
            spans, known = state.chain.spans, state.solved
            give = np.full(len(mine), np.nan)
            give[known] = mid_span_deflection(
                chord[middle][known], spans.tension_start_n[middle][known], check.side_force_n, stiffness, along[known]
            )
            parts.append(
                pd.DataFrame(
                    {
                        "row_id": mine["row_id"].to_numpy(),
                        "wire_id": wire.id,
                        "temperature_c": celsius,
                        "tension_n": state.start_tension_n,
                        "span_m": run[middle],
                        "sag_mm": 1000.0 * spans.sag_m[middle],
                        "side_force_n": check.side_force_n,
                        "deflection_mm": 1000.0 * give,
                    }
                )
            )
    return pd.concat(parts, ignore_index=True)
