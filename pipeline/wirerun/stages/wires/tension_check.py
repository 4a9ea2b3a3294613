"""What a rightly strung wire shows in the field: sag and give of a span, at the temperature of the day."""

import numpy as np
import pandas as pd

from wirerun.geometry.station import first_and_last
from wirerun.mechanics.gauge import mid_span_deflection
from wirerun.mechanics.row_index import row_sums
from wirerun.mechanics.season import chain_at_length, warmed
from wirerun.mechanics.supports import Supports
from wirerun.rules.wire import wire_of
from wirerun.settings import CheckSettings, StateSettings, WireSettings
from wirerun.tables import TENSION_CHECK


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
        row_id, wire_id, cut_m_per_line.
    wires : tuple of WireSettings
        Heights and what they are made of.
    states : StateSettings
        Stringing temperature.
    check : CheckSettings
        Temperatures of the sheet and the side force.

    Returns
    -------
    DataFrame
        The columns of `tables.TENSION_CHECK`; empty numbers where a wire hangs loose or is not known.
    """
    feet = Supports(posts["run_m"].to_numpy(), posts["ground_m"].to_numpy(), posts["row"].to_numpy())
    first, last = first_and_last(feet.rows.of_span)
    middle = (first + last + 1) // 2  # of an even number of spans the one behind the middle
    chord = np.hypot(feet.dx_m, feet.rise_m)
    along = row_sums(feet.rows.of_span, chord, feet.rows.count)
    parts = []
    for wire in wires:
        mine, line = totals[totals["wire_id"] == wire.id], wire_of(wire)
        supports = feet.at_heights(feet.z_m + wire.height_m)
        for celsius in check.temperatures_c:
            cut = warmed(line, mine["cut_m_per_line"].to_numpy(), celsius - states.stringing_c)
            state = chain_at_length(supports, line, cut)
            parts.append(
                pd.DataFrame(
                    {
                        "row_id": mine["row_id"].to_numpy(),
                        "wire_id": wire.id,
                        "temperature_c": celsius,
                        "tension_n": state.start_tension_n,
                        "span_m": feet.dx_m[middle],
                        "sag_mm": 1000.0 * state.chain.spans.sag_m[middle],
                        "side_force_n": check.side_force_n,
                        "pushed_n": state.chain.spans.tension_start_n[middle],
                        "axial_stiffness_n": float(line.axial_stiffness_n),
                        "chord_m": chord[middle],
                        "shared_m": along,
                    }
                )
            )
    sheet = pd.concat(parts, ignore_index=True)
    known = sheet[sheet["pushed_n"].notna()]
    names = ("chord_m", "pushed_n", "side_force_n", "axial_stiffness_n", "shared_m")
    give = mid_span_deflection(*(known[name].to_numpy() for name in names))
    return sheet.assign(deflection_mm=pd.Series(1000.0 * give, index=known.index))[TENSION_CHECK.names]
