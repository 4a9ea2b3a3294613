"""What the foliage wires take every year: by hand, and nothing that the catalogue does not know."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from wirerun.arrays import words
from wirerun.model.season import MovedWires
from wirerun.result.season_table import moved_wires, season_table
from wirerun.settings import Catalogue, Config, WorkSettings
from wirerun.settings.catalogue import RateItem
from wirerun.stages.work.season import season_work


def rate(task: str, per: str, minutes: float) -> RateItem:
    known = {"source": "made up in this test", "date": dt.date(2026, 1, 2)}
    return RateItem.model_validate({"id": task, "per": per, "minutes": minutes, **known})


CATALOGUE = Catalogue(
    rates=(
        rate("lift", "100 m of wire", 3.0),
        rate("let down", "line", 4.0),
        rate("let out adjusters", "adjuster", 5.0),
    ),
    folder="mine",
)
WORK = WorkSettings(lifts_per_year=2)
# Two rows of one wire in B01, the second steep and with adjusters, and one row of two wires in B02.
WIRES = MovedWires(
    block_id=words(["B01", "B01", "B02", "B02"]),
    wire_id=words(["lower", "lower", "lower", "upper"]),
    lines=np.array([2, 2, 1, 2]),
    run_out_m=np.array([400.0, 200.0, 100.0, 50.0]),
    adjusters=np.array([0, 2, 0, 0]),
    slope_factor=np.array([1.0, 1.5, 1.0, 1.0]),
)


def test_two_blocks_by_hand() -> None:
    """Lifting 400 m on flat ground and 200 m on steep takes (4 + 2 * 1.5) * 3 min, twice a year."""
    made, findings = season_work(WIRES, CATALOGUE, WORK)
    got = season_table(made, 20.0)
    assert findings == []
    lines = [tuple(line) for line in got.drop(columns="cost_a_year").itertuples(index=False)]
    assert lines == [
        ("B01", "lower", "lift", 600.0, "m", 0.35, 2, 0.7),
        ("B01", "lower", "let down", 4.0, "line", 0.33, 1, 0.33),
        ("B01", "lower", "let out adjusters", 2.0, "adjuster", 0.25, 1, 0.25),
        ("B02", "lower", "lift", 100.0, "m", 0.05, 2, 0.1),
        ("B02", "lower", "let down", 1.0, "line", 0.07, 1, 0.07),
        ("B02", "upper", "lift", 50.0, "m", 0.03, 2, 0.06),
        ("B02", "upper", "let down", 2.0, "line", 0.13, 1, 0.13),
    ]
    assert got["cost_a_year"].tolist() == pytest.approx([14.0, 6.6, 5.0, 2.0, 1.4, 1.2, 2.6])
    assert season_table(made, None)["cost_a_year"].isna().all()


def test_what_the_catalogue_has_no_minutes_for_is_no_hours_and_said() -> None:
    bare = replace(CATALOGUE, rates=CATALOGUE.rates[:1])
    made, findings = season_work(WIRES, bare, WORK)
    got = season_table(made, 20.0)
    assert got["hours_a_year"][got["task"] == "lift"].notna().all()
    assert (got["unit"][got["task"] == "let down"] == "m").all()
    assert got.loc[got["task"] != "lift", ["hours_once", "hours_a_year", "cost_a_year"]].isna().to_numpy().all()
    assert [(one.code, one.place) for one in findings] == [("no-rate", "mine")]
    assert "let down, let out adjusters." in findings[0].message


def test_a_plan_without_foliage_wires_has_nothing_to_do_and_nothing_to_say() -> None:
    none = MovedWires(words([]), words([]), *(np.zeros(0, dtype=kind) for kind in (int, float, int, float)))
    made, findings = season_work(none, Catalogue(), WORK)
    assert season_table(made, None).empty
    assert findings == []


def test_foliage_wires_are_found_by_the_settings_of_their_block() -> None:
    """In B02 the lower wire is fixed, and nobody moves it; a wire without a length cannot be counted."""
    config = Config.model_validate(
        {
            "name": "two",
            "block": {"boundary": "block.geojson"},
            "elevation": {"raster": "ground.tif"},
            "rows": {"bearing_deg": 90.0, "spacing_m": 2.4},
            "work": {"slope_classes_pct": [10.0], "slope_factors": [1.0, 1.5]},
            "wires": [
                {"id": "lower", "kind": "foliage", "height_m": 1.2, "lines": 2},
                {"id": "upper", "kind": "foliage", "height_m": 1.5, "lines": 2},
            ],
            "blocks": {"B02": {"wires": [{"id": "lower", "kind": "fixed", "height_m": 1.2}]}},
        }
    )
    rows = pd.DataFrame(
        {"row_id": ["R2", "R1", "S1"], "block_id": ["B01", "B01", "B02"], "slope_pct": [20.0, 5.0, 0.0]}
    )
    wires = pd.DataFrame(
        [
            ("R1", "upper", 2, 50.0),
            ("R1", "lower", 2, 60.0),
            ("R2", "lower", 2, 70.0),
            ("R2", "upper", 2, np.nan),
            ("S1", "lower", 1, 80.0),
        ],
        columns=["row_id", "wire_id", "lines", "run_out_m"],
    )
    gear = pd.DataFrame({"row_id": ["R1", "R1", "S1"], "wire_id": "lower", "kind": ["tie", None, "tie"]})
    found = moved_wires(wires, rows, gear, config)
    assert found.wire_id.tolist() == ["lower", "lower", "upper"]
    assert found.run_out_m.tolist() == [70.0, 60.0, 50.0]
    assert found.adjusters.tolist() == [0, 1, 0]
    assert found.slope_factor.tolist() == [1.5, 1.0, 1.0]
