"""Plans side by side, by the command: what a change of the config changes, and that none changes nothing."""

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest
from click.testing import CliRunner, Result
from wirerun.cli import main
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.conftest import Corners, Estate

BLOCK: "Corners" = [(-60.0, -12.0), (25.0, -14.0), (28.0, 6.0), (-55.0, 5.0)]


def compare(*words: object) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, words)])


def table(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / f"{name}.csv", dtype="str", keep_default_na=False, encoding="utf-8-sig")


@pytest.fixture
def planned(make_estate: Callable[..., "Estate"]) -> Callable[..., Path]:
    """Return what plans one block with changes of its config, into a folder of the name."""
    estate = make_estate(B01=BLOCK)

    def plan(name: str, more: str = "") -> Path:
        done = estate.command("plan", "--only", "schedule", "--quiet", more=more)
        assert done.exit_code == Exit.GOOD, done.stderr
        folder = Path(estate.folder)
        shutil.copytree(folder / "out", folder / name)
        return folder / name

    return plan


def test_two_runs_of_one_config_are_equal(planned: Callable[..., Path], tmp_path: Path) -> None:
    one, other = planned("one"), planned("other")
    done = compare(one, other, "--strict", "--out", tmp_path / "cmp")
    assert done.exit_code == Exit.GOOD
    assert "B is the same plan as A: no line of any table differs." in done.stdout
    assert table(tmp_path / "cmp", "differences").empty
    record = json.loads((tmp_path / "cmp" / "run.json").read_bytes())
    assert record["equal"] is True
    assert record["settings"]["B"] == []


def test_what_another_hold_down_changes(planned: Callable[..., Path], tmp_path: Path) -> None:
    one, other = planned("one"), planned("other", "[undulation]\nhold_down_n = 40.0\n")
    assert compare(one, other, "--out", tmp_path / "cmp").exit_code == Exit.GOOD
    done = compare(one, other, "--strict", "--out", tmp_path / "cmp")  # over the earlier comparison
    assert done.exit_code == Exit.FINDINGS
    assert "setting undulation.hold_down_n: 5.0 > 40.0" in done.stdout
    lines = [line for line in done.stdout.splitlines() if str(tmp_path) not in line]  # a path may be longer
    assert max(map(len, lines)) <= 80
    totals = table(tmp_path / "cmp", "totals").set_index("what")
    before, after = (pd.read_csv(folder / "schedule" / "posts.csv", encoding="utf-8-sig") for folder in (one, other))
    two_way = [int((posts["clip_need"] == "two-way").sum()) for posts in (before, after)]
    assert totals.loc[["posts with two-way clips"], ["A", "B"]].to_numpy(dtype=float).tolist() == [two_way]
    assert two_way[0] > two_way[1]
    marks = table(tmp_path / "cmp", "post_changes").set_index("post_id")
    # No post moved; those whose need changed have other clips, and are told so.
    assert set(marks["mark"]) <= {"clips", "numbers"}
    need = before.set_index("post_id")["clip_need"] != after.set_index("post_id")["clip_need"]
    fewer = need[need & (before.set_index("post_id")["clip_need"] == "two-way")].index
    assert (marks.loc[fewer, "mark"] == "clips").all()
    assert marks.loc[fewer[0], "clips"].count("clip two-way > one-way") >= 1


def test_totals_of_the_years_and_of_each_block(planned: Callable[..., Path], tmp_path: Path) -> None:
    one = planned("one", "[work]\nlabour_per_hour = 18.0\n")
    assert compare(one, one, "--out", tmp_path / "cmp").exit_code == Exit.GOOD
    totals = table(tmp_path / "cmp", "totals").set_index("what")[["A", "B"]].apply(pd.to_numeric, errors="coerce")
    season, costs = (
        pd.read_csv(one / "schedule" / f"{name}.csv", encoding="utf-8-sig") for name in ("season", "costs")
    )
    for what, column in (("hours every year", "hours_a_year"), ("cost every year", "cost_a_year")):
        assert totals["B"][what] == pytest.approx(season[column].sum(), abs=0.005)
    lifting = season.loc[season["task"] == "lift", "hours_a_year"].sum()
    assert totals["A"]["hours every year: lift"] == pytest.approx(lifting, abs=0.005)
    # Blocks, and what belongs to none, add up to the whole.
    parts = totals["A"][["cost of block B01", "cost of no block"]]
    assert parts.sum() == pytest.approx(costs.loc[costs["part"] == "sum", "total"].iloc[0], abs=0.02)


def test_a_third_plan_and_moved_posts(planned: Callable[..., Path], tmp_path: Path) -> None:
    plans = [planned("one"), planned("two"), planned("three", "[posts]\nmax_span_m = 5.0\n")]
    done = compare(*plans, "--out", tmp_path / "cmp", "--json")
    record = json.loads(done.stdout)
    assert sum(record["lines"]["B"]["posts"].values()) == record["lines"]["B"]["posts"]["same"]
    assert record["lines"]["C"]["posts"]["added"] > 0
    marks = table(tmp_path / "cmp", "post_changes")
    assert set(marks["plan"]) == {"C"}
    assert {"added", "moved"} <= set(marks["mark"])
    # The first post of every row stands where it stood.
    moved = marks.loc[marks["mark"] == "moved", "post_id"]
    assert not moved.str.endswith("P001").any()


def test_a_plan_is_never_overwritten_by_a_comparison(planned: Callable[..., Path]) -> None:
    one = planned("one")
    before: Any = (one / "run.json").read_bytes()
    done = compare(one, one, "--out", one)
    assert done.exit_code == Exit.USAGE
    assert "holds a finished plan, and is left alone" in done.stderr
    assert (one / "run.json").read_bytes() == before


def test_one_folder_is_too_few(tmp_path: Path) -> None:
    done = compare(tmp_path)
    assert done.exit_code == Exit.USAGE
    assert "1 folder given; 2 to 26 finished plans can be compared" in done.stderr
