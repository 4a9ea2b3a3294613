"""Hours of rows, by hand and by a twin that walks through every piece on its own."""

import datetime as dt

import numpy as np
import pandas as pd
import pytest
from wirerun.settings import Catalogue, WorkSettings
from wirerun.settings.catalogue import AdjusterItem, EndItem, PostItem, RateItem
from wirerun.settings.fixing_item import FixingItem
from wirerun.tables import as_lines

from tests.unit.stages.written_down import Planned, work_of

SOURCED = {"source": "made up for a test", "date": dt.date(2025, 1, 31)}


def rate(task: str, per: str, minutes: float, people: int = 1, tool: str = "") -> RateItem:
    return RateItem.model_validate(
        {"id": task, "per": per, "minutes": minutes, "people": people, "tool": tool, **SOURCED}
    )


def post(name: str, kind: str, minutes: float, tool: str) -> PostItem:
    sizes = {"material": "steel", "length_m": 2.5, "depth_m": 0.6, "width_mm": 80.0, "pull_out_n": 900.0}
    return PostItem.model_validate({"id": name, "kind": kind, "minutes": minutes, "tool": tool, **sizes, **SOURCED})


def staple(name: str, minutes: float, tool: str) -> FixingItem:
    kind = {"kind": "formed staple", "holds": "both", "lets_go_n": 300.0, "fixes_to": "timber", "net_safe": True}
    size = {"fastener_diameter_mm": 4.0, "fastener_length_mm": 36.0}
    driven = {"fastener_kind": "staple", "shank": "ringed", "driven": "hand", **size}
    return FixingItem.model_validate({"id": name, "minutes": minutes, "tool": tool, **kind, **driven, **SOURCED})


def hook(name: str, minutes: float, tool: str) -> FixingItem:
    kind = {"kind": "hook", "holds": "both", "lets_go_n": 300.0, "fixes_to": "steel", "fasteners": 0, "net_safe": True}
    driven = {"fastener_kind": "none", "shank": "none", "driven": "none"}
    return FixingItem.model_validate({"id": name, "minutes": minutes, "tool": tool, **kind, **driven, **SOURCED})


CATALOGUE = Catalogue(
    posts=(post("big", "end", 15.0, "auger; driver"), post("small", "intermediate", 4.0, "driver")),
    fixings=(hook("bent", 0.5, "pliers, hammer"), hook("push", 0.25, "hammer")),
    adjusters=(AdjusterItem.model_validate({"id": "tie", "most_mm": 150.0, "tail_m": 0.3, "minutes": 3.0, **SOURCED}),),
    rates=(
        rate("end staples", "wire end", 1.5, tool="hammer"),
        rate("carry coils", "coil", 2.5, tool="cart"),
        rate("run out", "100 m of wire", 5.0, 2, "reel"),
        rate("tie off", "wire end", 2.0),
        rate("tension", "line", 4.0, 2),
        rate("join", "join", 6.0),
        rate("check", "row", 3.0),
    ),
    folder="catalogue",
)
FLAT, STEEP = "B01-R002", "B01-R001"
# The steep row comes first; nothing is in the order of the ids but that.
ROWS = pd.DataFrame(
    {
        "row_id": [STEEP, FLAT],
        "length_m": [95.0, 50.0],
        "slope_length_m": [100.0, np.nan],
        "slope_pct": [20.0, np.nan],
    }
)
POSTS = pd.DataFrame(
    {
        "row_id": [STEEP] * 5 + [FLAT] * 2,
        "kind": ["end", *["intermediate"] * 3, "end", "end", "end"],
        "post_item": ["big", "small", "small", "small", "big", "big", "big"],
        "end_item": None,
    }
)
CLIPS = pd.DataFrame({"row_id": [STEEP] * 3, "fixing": ["bent", "push", "bent"], "pieces": [8, 4, 2]})
WIRES = pd.DataFrame(
    {
        "row_id": [STEEP, STEEP, FLAT],
        "wire_id": ["fruiting", "lower", "lower"],
        "lines": [1, 2, 2],
        "run_out_m": [102.0, 204.0, 102.0],
    }
)
ADJUSTERS = pd.DataFrame({"row_id": [FLAT, FLAT], "kind": ["tie", None]})
COILS = pd.DataFrame(
    {
        "row_id": [STEEP, STEEP, STEEP, STEEP, FLAT],
        "wire_id": ["fruiting", "fruiting", "fruiting", "lower", "lower"],
        "line": [1, 1, 1, 1, 2],
        "joined": ["yes", "yes", "yes", "no", "no"],
        "carried": ["yes", "yes", "no", "yes", "no"],
    }
)
# A slope of 20 % is in the class from 20 to 30 %.
WORK = WorkSettings(slope_classes_pct=(10.0, 20.0, 30.0), slope_factors=(1.0, 1.2, 1.5, 2.0), walking_m_per_min=50.0)
PLAN = (ROWS, POSTS, CLIPS, WIRES, ADJUSTERS, COILS)


def test_two_rows_by_hand() -> None:
    """A pass takes 2 min in the steep row (100 m), 1 min in the other (50 m in plan); a steep minute counts 1.5."""
    got, findings = work_of(Planned(*PLAN), CATALOGUE, WORK)
    assert findings == []
    assert list(got.columns) == ["row_id", "step", "task", "quantity", "unit", "hours", "people", "tools"]
    steep = {  # quantity, unit, minutes of work, passes, people, tools
        "set posts": (3, "post", 12.0, 1, 1, "driver"),
        "set end posts": (2, "post", 30.0, 1, 1, "auger, driver"),
        "clips and staples": (14, "piece", 6.0, 2, 1, "pliers, hammer"),
        "end staples": (6, "wire end", 9.0, 2, 1, "hammer"),
        "carry coils": (3, "coil", 7.5, 0, 1, "cart"),
        "run out": (306, "m", 15.3, 6, 2, "reel"),
        "join": (2, "join", 12.0, 0, 1, ""),
        "fix one end": (3, "wire end", 6.0, 1, 1, ""),
        "tension": (3, "line", 12.0, 2, 2, ""),
        "tie off": (3, "wire end", 6.0, 1, 1, ""),
        "check": (1, "row", 3.0, 1, 1, ""),
    }
    flat = {
        "set end posts": (2, "post", 30.0, 1, 1, "auger, driver"),
        "end staples": (4, "wire end", 6.0, 2, 1, "hammer"),
        "run out": (102, "m", 5.1, 4, 2, "reel"),
        "fix one end": (2, "wire end", 4.0, 1, 1, ""),
        "tension": (2, "line", 8.0, 2, 2, ""),
        "tie off": (1, "wire end", 2.0, 1, 1, ""),
        "adjusters": (1, "adjuster", 3.0, 2, 1, ""),
        "check": (1, "row", 3.0, 1, 1, ""),
    }
    expected = [
        (row, task, quantity, unit, (minutes + passes * a_pass) / 60.0 * factor, people, tools)
        for row, tasks, a_pass, factor in ((STEEP, steep, 2.0, 1.5), (FLAT, flat, 1.0, 1.0))
        for task, (quantity, unit, minutes, passes, people, tools) in tasks.items()
    ]
    for line, want in zip(got.drop(columns="step").itertuples(index=False, name=None), expected, strict=True):
        assert line[:4] == (want[0], want[1], pytest.approx(want[2]), want[3])
        assert line[4:] == (pytest.approx(want[4], rel=1e-12), *want[5:])
    assert got.groupby("row_id")["step"].apply(lambda step: step.is_monotonic_increasing).all()
    assert got.groupby("task")["step"].nunique().eq(1).all()


def test_two_lines_run_out_with_each_other_take_one_walk() -> None:
    """Both lines of the lower wire in the steep row at once: two passes of 2 min are saved, times 1.5."""
    pair = pd.DataFrame({"row_id": STEEP, "wire_id": "lower", "line": [1, 2], "with_line": [2.0, 1.0]})
    coils = pd.concat([COILS, pair.assign(joined="no", carried="no")], ignore_index=True)
    # The lower wire's first line is there already: the pair takes its place.
    alone = coils[(coils["wire_id"] != "lower") | (coils["row_id"] != STEEP) | coils["with_line"].notna()]
    before, after = (work_of(Planned(*PLAN[:5], cut), CATALOGUE, WORK)[0] for cut in (COILS, alone))
    saved = {
        task: before.loc[(before["row_id"] == STEEP) & (before["task"] == task), "hours"].sum()
        - after.loc[(after["row_id"] == STEEP) & (after["task"] == task), "hours"].sum()
        for task in ("run out", "tension")
    }
    assert saved == {"run out": pytest.approx(2 * 2.0 * 1.5 / 60.0), "tension": 0.0}


def test_the_example_of_the_docstring() -> None:
    """12 wire ends at 2 min, a pass of 100 m at 50 m/min for each six, factor 1.15: 28 min * 1.15 = 0.537 h."""
    rows = ROWS[:1].assign(slope_pct=12.0)
    wires = pd.DataFrame({"row_id": [STEEP], "wire_id": ["lower"], "lines": [6], "run_out_m": [600.0]})
    got, _ = work_of(Planned(rows, POSTS[:0], CLIPS[:0], wires, ADJUSTERS[:0], COILS[:0]), CATALOGUE, WorkSettings())
    hours = got.set_index("task")["hours"]
    assert hours["fix one end"] == hours["tie off"] == pytest.approx(14.0 * 1.15 / 60.0)


def test_staples_are_driven_loosely_first_and_home_when_the_wire_is_strained() -> None:
    """Half of a staple's minutes for each; clips are done at once. No walk of its own: on the way back from tying."""
    bent, ringed = hook("bent", 0.5, "pliers"), staple("ringed", 0.8, "hammer and setting tool")
    clips = CLIPS.assign(fixing=["bent", "ringed", "ringed"])  # 8 hooks, 6 staples
    catalogue = Catalogue(fixings=(bent, ringed))
    got, findings = work_of(Planned(ROWS[:1], POSTS[:0], clips, WIRES[:0], ADJUSTERS[:0], COILS[:0]), catalogue, WORK)
    assert got["task"].tolist() == ["clips and staples", "drive home"]
    assert got["quantity"].tolist() == [14.0, 6.0]
    assert got["unit"].tolist() == ["piece", "staple"]
    assert got["tools"].tolist() == ["pliers, hammer, setting tool", "hammer, setting tool"]
    loosely, home = 8 * 0.5 + 6 * 0.4, 6 * 0.4
    assert got["hours"].to_numpy() == pytest.approx(np.array([loosely + 2.0, home]) * 1.5 / 60.0)
    assert findings == []


@pytest.mark.parametrize(("per", "quantity", "unit"), [("line", 3.0, "line"), ("100 m of wire", 306.0, "m")])
def test_a_rate_for_tying_off_that_is_not_for_each_end_is_for_both(per: str, quantity: float, unit: str) -> None:
    catalogue = Catalogue(rates=(rate("tie off", per, 2.0),))
    got, _ = work_of(Planned(ROWS[:1], POSTS[:0], CLIPS[:0], WIRES[:2], ADJUSTERS[:0], COILS[:0]), catalogue, WORK)
    ends = got[got["task"].isin(["fix one end", "tie off"])]
    assert ends["quantity"].to_numpy() == pytest.approx(quantity)
    assert set(ends["unit"]) == {unit}
    whole = 2.0 * quantity / (100.0 if unit == "m" else 1.0)
    assert ends["hours"].sum() == pytest.approx(1.5 * (whole + 2 * 2.0) / 60.0)


def test_a_row_whose_every_line_has_an_adjuster_has_one_end_fixed_and_none_tied() -> None:
    gear = pd.DataFrame({"row_id": [FLAT, FLAT], "kind": "tie"})
    got, _ = work_of(Planned(ROWS[1:], POSTS[:0], CLIPS[:0], WIRES[2:], gear, COILS[:0]), CATALOGUE, WORK)
    assert got.set_index("task")["quantity"].filter(items=["fix one end", "tie off", "adjusters"]).to_dict() == {
        "fix one end": 2.0,
        "adjusters": 2.0,
    }


def test_what_has_no_minutes_is_walked_and_said() -> None:
    clips, posts = CLIPS.assign(fixing=np.array(["bent", None, "lost"], dtype=object)), POSTS.assign(post_item=None)
    rates = tuple(rate for rate in CATALOGUE.rates if rate.id not in ("end staples", "run out"))
    bare = Catalogue(fixings=CATALOGUE.fixings, rates=rates, folder="mine")
    got, findings = work_of(Planned(ROWS, posts, clips, WIRES, ADJUSTERS[1:], COILS), bare, WORK)
    steep = got[got["row_id"] == STEEP].set_index("task")
    two_min, four_min = 1.5 * 2.0 / 60.0, 1.5 * 4.0 / 60.0
    assert steep["hours"]["set posts"] == pytest.approx(two_min)
    assert steep["hours"]["end staples"] == pytest.approx(four_min)
    assert steep["quantity"]["clips and staples"] == 14
    assert steep["hours"]["clips and staples"] == pytest.approx(four_min + 1.5 * 8 * 0.5 / 60.0)
    assert [(finding.code, finding.place) for finding in findings] == [("no-rate", "mine")]
    assert findings[0].message == (
        "The catalogue has no minutes for: set posts (3 post), set end posts (4 post), clips and staples (6 piece), "
        "end staples (10 wire end), run out (408 m). Their hours are walking only."
    )


def test_a_crew_that_is_too_small_is_said() -> None:
    _, (finding,) = work_of(Planned(*PLAN), CATALOGUE, WORK.model_copy(update={"people": 1}))
    assert (finding.code, finding.message) == (
        "crew-too-small",
        "A crew of 1 is too small for: run out (2), tension (2).",
    )


def test_an_empty_catalogue_and_rows_without_wires() -> None:
    """Only posts are left; with no pace to speak of they take no time at all."""
    unknown = WIRES.assign(run_out_m=np.nan)
    got, findings = work_of(Planned(ROWS, POSTS, CLIPS[:0], unknown, ADJUSTERS[:0], COILS[:0]), Catalogue(), WORK)
    assert list(got["task"]) == ["set posts", "set end posts", "set end posts"]
    assert findings[0].place == "catalogue"
    walking = [2.0 * 1.5, 2.0 * 1.5, 1.0]
    assert got["hours"].to_numpy() == pytest.approx(np.array(walking) / 60.0)


def test_posts_of_a_row_whose_wires_stand_are_set_out_by_the_row_too() -> None:
    """3 min a row and a pass: of 2 min in the steep row, whose every minute counts 1.5, of 1 min in the other."""
    rates = Catalogue(rates=(rate("set out and peg", "row", 3.0),))
    got, _ = work_of(Planned(ROWS, POSTS, CLIPS[:0], WIRES[2:], ADJUSTERS[:0], COILS[:0]), rates, WORK)
    set_out = got[got["task"] == "set out and peg"]
    assert set_out["row_id"].tolist() == [STEEP, FLAT]
    assert set_out["quantity"].tolist() == [1.0, 1.0]
    assert set_out["hours"].to_numpy() == pytest.approx(np.array([5.0 * 1.5, 4.0]) / 60.0)


def test_nothing_at_all() -> None:
    rows, posts, clips, wires, adjusters, coils = (frame[:0] for frame in PLAN)
    got, findings = work_of(Planned(rows, posts, clips, wires, adjusters, coils), CATALOGUE, WORK)
    assert got.empty
    assert findings == []


@pytest.mark.parametrize(
    ("per", "quantity", "unit"),
    [("wire end", 6.0, "wire end"), ("100 m of wire", 306.0, "m"), ("line", 3.0, "line"), ("row", 1.0, "row")],
)
def test_a_rate_may_be_for_something_else(per: str, quantity: float, unit: str) -> None:
    catalogue = Catalogue(rates=(rate("tension", per, 2.0),))
    got, _ = work_of(Planned(ROWS[:1], POSTS[:0], CLIPS[:0], WIRES[:2], ADJUSTERS[:0], COILS[:0]), catalogue, WORK)
    line = got[got["task"] == "tension"].iloc[0]
    counted = quantity / 100.0 if unit == "m" else quantity
    assert (line["quantity"], line["unit"]) == (pytest.approx(quantity), unit)
    assert line["hours"] == pytest.approx(1.5 * (2.0 * counted + 4.0) / 60.0)


def twin(rows: pd.DataFrame, frames: tuple[pd.DataFrame, ...], catalogue: Catalogue, work: WorkSettings) -> float:
    """Hours of all rows, piece by piece in plain Python."""
    posts, clips, wires, adjusters, coils = frames
    minutes: dict[str, float] = {item.id: item.minutes for item in catalogue.rates}
    minutes |= {item.id: item.minutes for item in catalogue.posts}
    minutes |= {item.id: item.minutes for item in catalogue.fixings}
    minutes |= {item.id: item.minutes for item in catalogue.adjusters}
    total = 0.0
    for row in as_lines(rows):
        mine = [frame[frame["row_id"] == row["row_id"]] for frame in (posts, clips, wires, adjusters, coils)]
        kinds = set(mine[0]["kind"])
        spent = sum(minutes[item] for item in mine[0]["post_item"])
        passes = len(kinds)
        spent += sum(minutes[f] * n for f, n in zip(mine[1]["fixing"], mine[1]["pieces"], strict=True))
        passes += min(2, max(mine[2]["lines"], default=1)) if len(mine[1]) else 0
        lines = sum(mine[2]["lines"])
        if lines:
            spent += 2 * lines * minutes["end staples"] + sum(mine[2]["run_out_m"]) / 100.0 * minutes["run out"]
            tied = 2 * lines - len(mine[3])
            spent += tied * minutes["tie off"] + lines * minutes["tension"] + minutes["check"]
            passes += 2 + 2 * lines + 1 + (tied > lines) + 2 + 1
        spent += sum(minutes[kind] for kind in mine[3]["kind"])
        passes += 2 * (len(mine[3]) > 0)
        joins = sum(
            len(pieces) - 1 for _, pieces in mine[4].groupby(["wire_id", "line"]) if (pieces["joined"] == "yes").any()
        )
        spent += joins * minutes["join"] + (mine[4]["carried"] == "yes").sum() * minutes["carry coils"]
        factor = work.slope_factors[sum(limit <= row["slope_pct"] for limit in work.slope_classes_pct)]
        total += (spent + passes * row["slope_length_m"] / work.walking_m_per_min) / 60.0 * factor
    return total


@pytest.mark.parametrize("seed", range(5))
def test_random_rows_take_what_a_plain_twin_says(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ids = np.array([f"B01-R{n:03d}" for n in rng.permutation(9)])
    rows = pd.DataFrame({"row_id": ids, "slope_length_m": rng.uniform(20, 200, 9), "slope_pct": rng.uniform(0, 45, 9)})
    rows["length_m"] = rows["slope_length_m"] * 0.98
    kind = rng.choice(["end", "intermediate"], 60)
    posts = pd.DataFrame(
        {"row_id": rng.choice(ids, 60), "kind": kind, "post_item": np.where(kind == "end", "big", "small")}
    ).assign(end_item=None)
    clips = pd.DataFrame(
        {"row_id": rng.choice(ids, 40), "fixing": rng.choice(["bent", "push"], 40), "pieces": rng.integers(1, 9, 40)}
    )
    wires = pd.DataFrame(
        [(row, wire) for row in ids[:7] for wire in ("fruiting", "lower")], columns=["row_id", "wire_id"]
    )
    wires = wires.assign(lines=rng.integers(1, 4, 14), run_out_m=rng.uniform(30, 600, 14))
    adjusters = pd.DataFrame({"row_id": rng.choice(ids[:7], 5), "kind": "tie"})
    coils = wires.loc[wires.index.repeat(rng.integers(1, 4, 14)), ["row_id", "wire_id"]].assign(line=1)
    coils["joined"] = np.where(coils.duplicated(keep=False), "yes", "no")
    coils["carried"] = rng.choice(["yes", "no"], len(coils))
    got, _ = work_of(Planned(rows, posts, clips, wires, adjusters, coils), CATALOGUE, WORK)
    assert got["hours"].sum() == pytest.approx(twin(rows, (posts, clips, wires, adjusters, coils), CATALOGUE, WORK))
    assert got["row_id"].drop_duplicates().tolist() == [row for row in ids if row in set(got["row_id"])]


def test_setting_out_carrying_and_end_assemblies_come_in_their_place() -> None:
    """Five posts: 2.5 min to set out and 10 to carry at 0.5 and 2 each, one and two passes; two ends at 14 min."""
    anchored = EndItem.model_validate({"id": "anchored", "kind": "anchored", "minutes": 14.0, "tool": "bar", **SOURCED})
    rates = (*CATALOGUE.rates, rate("set out and peg", "post", 0.5), rate("carry out posts", "post", 2.0))
    catalogue = Catalogue(posts=CATALOGUE.posts, rates=rates, ends=(anchored,))
    posts = POSTS.assign(end_item=POSTS["kind"].map({"end": "anchored"}))[:5]
    got, _ = work_of(Planned(ROWS[:1], posts, CLIPS[:0], WIRES[:2], ADJUSTERS[:0], COILS[:0]), catalogue, WORK)
    assert got["task"].tolist()[:5] == [
        "set out and peg",
        "carry out posts",
        "set posts",
        "set end posts",
        "end assemblies",
    ]
    hours = got.set_index("task")["hours"] * 60.0 / 1.5
    assert hours["set out and peg"] == pytest.approx(2.5 + 2.0)
    assert hours["carry out posts"] == pytest.approx(10.0 + 4.0)
    assert hours["end assemblies"] == pytest.approx(28.0)
