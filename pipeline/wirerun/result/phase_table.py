"""The table of what is built in which year."""

import numpy as np
import pandas as pd

from wirerun.model.phases import Phases
from wirerun.rounding import half_up
from wirerun.settings import PhaseSettings, WorkSettings
from wirerun.tables import conform, empty
from wirerun.tables.estate import PHASES


def phase_table(made: Phases | None, settings: PhaseSettings, work: WorkSettings) -> pd.DataFrame:
    """What is built in each year: `tables.estate.PHASES`.

    Parameters
    ----------
    made : Phases or None
        None where nothing limits a year.
    settings : PhaseSettings
        What a year has, and what the first is called.
    work : WorkSettings
        The crew and its day.
    """
    if made is None or not made.years:
        return empty(PHASES)
    hours, cash = (half_up(np.bincount(made.year, np.nan_to_num(each)), 2) for each in (made.hours, made.cash))
    most_h, most_cash = settings.hours_a_year, settings.cash_a_year
    return conform(
        PHASES,
        pd.DataFrame(
            {
                "year": settings.first_year + np.arange(made.years),
                "blocks": [_named(made, year) for year in range(made.years)],
                "hours": hours,
                "crew_days": half_up(hours / (work.people * work.day_hours), 1),
                "cash": cash,
                "hours_left": half_up((np.nan if most_h is None else most_h) - hours, 2),
                "cash_left": half_up((np.nan if most_cash is None else most_cash) - cash, 2),
            }
        ),
    )


def _named(made: Phases, year: int) -> str:
    """The blocks of a year: "B01, B02 (1 of 3)"."""
    here = np.flatnonzero(made.year == year)
    return ", ".join(
        f"{made.block_id[at]}{f' ({made.part[at]} of {made.parts[at]})' if made.parts[at] > 1 else ''}" for at in here
    )
