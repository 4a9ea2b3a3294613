"""Blocks by years: order, limits, blocks that no year has room for."""

import numpy as np
from wirerun.arrays import words
from wirerun.findings import Findings
from wirerun.model.phases import Phases
from wirerun.result.phase_table import phase_table
from wirerun.settings import PhaseSettings, WorkSettings
from wirerun.stages.work.phases import phase_blocks

IDS = words(["A", "B", "C", "D"])
HOURS = np.array([600.0, 300.0, 500.0, 400.0])
CASH = np.array([60.0, 20.0, 10.0, 40.0])


def phased(notes: Findings | None = None, **settings: object) -> Phases:
    own = PhaseSettings.model_validate(settings)
    return phase_blocks(IDS, HOURS, CASH, own, "EUR", Findings() if notes is None else notes)


def by_year(made: Phases) -> list[str]:
    return ["".join(made.block_id[made.year == year]) for year in range(made.years)]


def test_as_few_years_as_can_be_the_cheapest_first() -> None:
    # 900 h hold 600 + 300 and 500 + 400, 80 and 50: any other pairing takes three years.
    assert by_year(phased(hours_a_year=900.0)) == ["CD", "BA"]
    assert phased(hours_a_year=900.0).proven


def test_money_is_a_limit_of_its_own() -> None:
    # 60 + 20 in one year is more than 70; so A is alone, and 300 + 500 + 400 h are too many for one.
    made = phased(hours_a_year=900.0, cash_a_year=70.0)
    assert made.years == 3
    assert (np.bincount(made.year, made.cash) <= 70.0).all()


def test_an_order_is_kept_even_where_it_takes_more_years() -> None:
    made = phased(hours_a_year=900.0, order=("A", "C"))
    assert by_year(made) == ["A", "CB", "D"]
    assert not made.proven


def test_a_block_too_large_for_a_year_has_several_of_its_own() -> None:
    notes = Findings()
    made = phased(notes, hours_a_year=500.0, order=("B", "A", "D", "C"))
    assert by_year(made) == ["B", "A", "A", "D", "C"]
    assert made.hours[made.block_id == "A"].tolist() == [300.0, 300.0]
    assert made.hours.sum() == HOURS.sum()
    assert [note.code for note in notes] == ["phases", "phases-over"]
    assert notes[1].message.endswith(": A.")


def test_without_an_order_large_blocks_come_last_one_after_another() -> None:
    """350 h a year: B fits into one, the others take two each, half of their hours and of their money in each."""
    made = phased(hours_a_year=350.0)
    assert by_year(made) == ["B", "A", "A", "C", "C", "D", "D"]
    assert made.part.tolist() == [1, 1, 2, 1, 2, 1, 2]
    assert made.cash.tolist() == [20.0, 30.0, 30.0, 5.0, 5.0, 20.0, 20.0]


def test_the_table_counts_from_the_first_year_and_by_the_crew() -> None:
    settings = PhaseSettings(hours_a_year=500.0, first_year=2027, order=("B", "A", "D", "C"))
    table = phase_table(phased(**settings.model_dump()), settings, WorkSettings(people=2, day_hours=5.0))
    assert table["year"].tolist() == [2027, 2028, 2029, 2030, 2031]
    assert table["blocks"].tolist() == ["B", "A (1 of 2)", "A (2 of 2)", "D", "C"]
    assert table["crew_days"].tolist() == [30.0, 30.0, 30.0, 40.0, 50.0]
    assert table["hours_left"].tolist() == [200.0, 200.0, 200.0, 100.0, 0.0]
    assert table["cash_left"].isna().all()


def test_what_a_block_costs_is_not_made_up() -> None:
    notes = Findings()
    cash = np.array([60.0, np.nan, 10.0, 40.0])
    phase_blocks(IDS, HOURS, cash, PhaseSettings(cash_a_year=100.0), "EUR", notes)
    assert "counts as nothing" in notes[1].message
    assert notes[1].message.endswith(": B.")
