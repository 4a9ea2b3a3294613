"""Sections, certainty, clip and seat on short hand-made rows."""

import numpy as np
import pandas as pd
import pytest
from wirerun.settings import ElevationSettings, UndulationSettings, WireSettings
from wirerun.stages.clips.choose_clips import choose_clips
from wirerun.stages.clips.undulation import find_sections, judge_need
from wirerun.tables import STATES

WIRES = (
    WireSettings(id="fruiting", kind="fixed", height_m=0.9),
    WireSettings(id="lower", kind="foliage", height_m=1.2),
)


def two_rows(load_n: list[float]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Two rows of 2 end posts and half of the loads each; the fixed wire pulls up 100 N everywhere."""
    half = len(load_n) // 2
    row = np.repeat([0, 1], half + 2)
    number = np.tile(np.arange(half + 2), 2)
    posts = pd.DataFrame(
        {
            "post_id": [f"B01-R{r + 1:03d}-P{n + 1:03d}" for r, n in zip(row, number, strict=True)],
            "row_id": [f"B01-R{r + 1:03d}" for r in row],
            "block_id": "B01",
            "row": row,
            "station_m": number * 6.0,
            "run_m": number * 6.0,
            "ground_m": 0.0,
            "bridged_error_m": np.nan,
            "turn_rad": 0.0,
        }
    )
    middle = np.flatnonzero((number > 0) & (number < half + 1))
    lines = [
        pd.DataFrame(
            {
                "post_id": posts["post_id"].to_numpy()[middle],
                "row_id": posts["row_id"].to_numpy()[middle],
                "wire_id": wire,
                "post": middle,
                "load_tight_n": load,
                "tension_tight_n": 300.0,
                **{f"{what}_{state}_n": np.nan for what in ("load", "tension") for state in STATES[1:]},
                "load_most_lifted_n": np.nan,
                "dropped_height_m": np.nan,
            }
        )
        for wire, load in (("fruiting", -100.0), ("lower", np.array(load_n)))
    ]
    return posts, pd.concat(lines, ignore_index=True)


def plan(
    load_n: list[float], accuracy_m: float = 0.0, **changes: object
) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, list[str]]:
    settings = UndulationSettings.model_validate(changes)
    posts, loads = two_rows(load_n)
    elevation = ElevationSettings(raster="x", accuracy_m=accuracy_m, correlation_m=0.0, smoothing_m=0.0)
    posts, loads = judge_need(posts, loads, elevation, settings)
    posts, sections = find_sections(posts, loads, WIRES, settings)
    clips, findings = choose_clips(posts, loads, WIRES, settings)
    return posts, sections, clips, [finding.code for finding in findings]


def test_runs_are_joined_across_small_gaps_but_not_across_rows() -> None:
    #           row 1: - U - U - - U      row 2: U U - - - - U
    load = [*[1.0, -9, 1, -9, 1, 1, -9], *[-9.0, -9, 1, 1, 1, 1, -20]]
    _, sections, clips, _ = plan(load)
    assert sections["section_id"].tolist() == ["B01-R001-U01", "B01-R001-U02", "B01-R002-U01", "B01-R002-U02"]
    assert sections["from_post"].str[-4:].tolist() == ["P003", "P008", "P002", "P008"]
    assert sections["to_post"].str[-4:].tolist() == ["P005", "P008", "P003", "P008"]
    assert sections["posts"].tolist() == [3, 1, 2, 1]
    # Half a span beyond each end: from 9 m to 27 m.
    assert sections["length_m"].tolist() == [18.0, 6.0, 12.0, 6.0]
    assert sections["greatest_pull_up_n"].tolist() == [9.0, 9.0, 9.0, 20.0]
    lower = clips[clips["wire_id"] == "lower"]
    two_way = lower["clip"] == "two-way"
    assert two_way.tolist() == [False, True, True, True, False, False, True] + [True, True] + [False] * 4 + [True]
    # The post in the gap gets a two-way clip too, and the wire sits over it: it bears down there.
    assert lower["seat"].tolist()[1:4] == ["under", "over", "under"]
    assert (clips.loc[clips["wire_id"] == "fruiting", "clip"] == "staple").all()
    assert (clips.loc[clips["wire_id"] == "fruiting", "seat"] == "under").all()


def test_without_joining_each_run_stands_alone() -> None:
    _, sections, _, _ = plan([1.0, -9, 1, -9, 1, 1, -9, *[1.0] * 7], join_posts=0)
    assert sections["posts"].tolist() == [1, 1, 1]


def test_certainty_follows_the_error_of_the_heights() -> None:
    """Level 6 m spans at 300 N, uncorrelated 3 cm: sigma = 300/6 * 0.03 * sqrt(1 + 4 + 1) = 3.674 N."""
    sigma = 300.0 / 6.0 * 0.03 * np.sqrt(6.0)
    load = [-5.0 - 1.7 * sigma, -5.0 - 0.5 * sigma, -5.0 + 0.5 * sigma, -5.0 + 1.6 * sigma, -5.0 + 1.7 * sigma, 40.0]
    _, sections, clips, findings = plan([*load, *load], accuracy_m=0.03, join_posts=0)
    lower = clips[clips["wire_id"] == "lower"]
    assert lower["certainty"].tolist()[:6] == ["certain", "likely", "possible", "possible", "no", "no"]
    # Normal distribution at 1.7, 0.5, -0.5 and -1.6 sigma (any table): 0.9554, 0.6915, 0.3085, 0.0548.
    assert lower["need_probability"].tolist()[:4] == pytest.approx([0.9554, 0.6915, 0.3085, 0.0548], abs=5e-5)
    assert sections["posts"].tolist() == [2, 2]
    assert findings == ["look-on-site"]
    for plan_for, posts in (("certain", 1), ("possible", 4)):
        _, sections, _, _ = plan([*load, *load], accuracy_m=0.03, join_posts=0, plan_for=plan_for)
        assert sections["posts"].tolist() == [posts, posts]


def test_a_row_without_loads_stays_open() -> None:
    posts, sections, clips, _ = plan([np.nan] * 3 + [1.0] * 3)
    lower = clips[clips["wire_id"] == "lower"]
    assert lower["clip"].isna().tolist() == [True] * 3 + [False] * 3
    assert (lower["clip"].iloc[3:] == "one-way").all()
    assert lower["certainty"].isna().tolist() == [True] * 3 + [False] * 3
    assert sections.empty
    assert posts["section_id"].isna().all()


def test_a_wire_that_pulls_up_only_when_cold_is_seen_as_such() -> None:
    """The worst state decides; each state says what it alone would ask for."""
    posts, loads = two_rows([3.0, 3.0, 3.0, 3.0])
    lower = (loads["wire_id"] == "lower").to_numpy()
    loads.loc[lower, "load_cold_n"] = [2.0, -12.0, 2.0, -4.0]
    loads.loc[lower, "tension_cold_n"] = 536.0
    loads.loc[lower, "load_hot_n"] = 2.3
    loads.loc[lower, "tension_hot_n"] = 50.0
    settings = UndulationSettings()
    elevation = ElevationSettings(raster="x", accuracy_m=0.0)
    posts, loads = judge_need(posts, loads, elevation, settings)
    posts, sections = find_sections(posts, loads, WIRES, settings)
    clips, _ = choose_clips(posts, loads, WIRES, settings)
    lower_clips = clips[clips["wire_id"] == "lower"]
    assert sections["greatest_pull_up_n"].tolist() == [12.0]
    assert lower_clips["clip"].tolist() == ["one-way", "two-way", "one-way", "one-way"]
    assert lower_clips["clip_tight"].tolist() == ["one-way"] * 4
    assert lower_clips["clip_cold"].tolist() == ["one-way", "two-way", "one-way", "one-way"]
    # The two-way clip holds it down when cold; a one-way clip holds the 4 N by its hold-down, the wire over it.
    assert lower_clips["seat_cold"].tolist() == ["over", "under", "over", "over"]
    assert lower_clips["seat_tight"].tolist() == ["over"] * 4
    assert lower_clips["seat_lifted"].isna().all()
    assert lower_clips["load_min_n"].tolist() == [2.0, -12.0, 2.0, -4.0]
    assert lower_clips["load_max_n"].tolist() == [3.0] * 4
