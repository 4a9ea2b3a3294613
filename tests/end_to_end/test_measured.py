"""What was measured takes the place of assumptions: in the plan, its record, an estate and a repair; and refusals."""

import importlib.util
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from wirerun import api
from wirerun.errors import Exit
from wirerun.read.config import load_config

if TYPE_CHECKING:
    from tests.conftest import Estate

ROOT = Path(__file__).parents[2]
LEFT = [(-68.0, -12.0), (2.0, -14.0), (0.0, 10.0), (-64.0, 12.0)]
RIGHT = [(6.0, -15.0), (40.0, -12.0), (35.0, 15.0), (8.0, 12.0)]
TENSIONS = """row,wire,place,gauge,reading,temperature_c
B01-R002,lower,S001,tension,300,15
B01-R002,lower,S004,tension,284,15
B01-R002,lower,S009,tension,249,15
b01-r3,lower,P001,tension,305,15
b01-r3,lower,P005,tension,284,15
b01-r3,lower,P010,tension,255,15
"""
CLIPS = "item,pull_n\n" + "".join(f'"open clip, one staple",{pull}\n' for pull in (21, 25, 30, 24, 28, 26))
MORE = """
[measured]
tensions = "tensions.csv"
clip_tests = "clips.csv"
"""


@pytest.fixture
def one(make_estate: Callable[..., "Estate"]) -> "Estate":
    """Return a block of wavy rows, and files of what was measured in it."""
    made = make_estate(B01=LEFT)
    (made.folder / "tensions.csv").write_text(TENSIONS)
    (made.folder / "clips.csv").write_text(CLIPS)
    return made


def test_the_plan_takes_it_and_its_record_keeps_it(one: "Estate") -> None:
    done = one.command("plan", "--only", "schedule", more=MORE)
    assert done.exit_code == Exit.GOOD, done.stderr
    record = one.record
    by_what = {each["what"]: each for each in record["measured"]}
    assert set(by_what) == {"hold-down", "friction", "end give"}
    friction = by_what["friction"]
    assert friction["was"] == 0.2
    assert friction["taken"]
    assert record["config"]["states"]["friction"] == pytest.approx(friction["value"], abs=1e-4)
    assert record["config"]["undulation"]["hold_down_n"] == pytest.approx(by_what["hold-down"]["value"])
    assert not by_what["end give"]["taken"]
    assert "colder or warmer" in by_what["end give"]["sentence"]
    assert {each["path"] for each in record["inputs"] if each["role"] == "measured"} == {"tensions.csv", "clips.csv"}
    assert "measured: Friction in the clips is" in " ".join(done.stderr.split())


def test_what_it_changes_is_the_difference_of_two_plans(one: "Estate") -> None:
    # By price most clips are two-way already, and the hours stay the same.
    likely = '[undulation]\nplan_for = "likely"\n'
    done = one.command("measured", "--json", more=likely + MORE)
    assert done.exit_code == Exit.GOOD, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    assert [each["what"] for each in found] == ["hold-down", "friction", "end give", "all together"]
    assert "order_changes_by" not in found[2]  # not taken
    change = {(each["what"], each["ordered"]): each for each in found[-1]["order_changes_by"]}
    counts = []
    for more in ("", MORE):
        assert one.command("plan", "--only", "schedule", more=likely + more).exit_code == Exit.GOOD
        counts.append(one.record["counts"])
    two_way = change["posts with two-way clips", False]
    assert (two_way["before"], two_way["after"]) == tuple(each["two_way_posts"] for each in counts)
    assert two_way["after"] < two_way["before"]
    hours = change["hours of work", False]
    assert (hours["before"], hours["after"]) == pytest.approx([each["hours"] for each in counts], abs=0.06)
    # Friction buys nothing: it only says where to strain.
    assert not any(each["ordered"] for each in found[1]["order_changes_by"])
    words = one.command("measured", "--quick", more=MORE)
    assert max(map(len, words.stdout.split("\n"))) <= 80
    assert "The order changes by" not in words.stdout


def test_an_estate_takes_for_all_blocks_what_was_measured_in_one(make_estate: Callable[..., "Estate"]) -> None:
    both = make_estate(B01=LEFT, B02=RIGHT)
    (both.folder / "tensions.csv").write_text(TENSIONS)
    (both.folder / "clips.csv").write_text(CLIPS)
    done = both.command("estate", "--out", str(both.folder / "estate"), "--quiet", more=MORE)
    assert done.exit_code in (Exit.GOOD, Exit.FINDINGS), done.stderr
    told = [
        json.loads((both.folder / "estate" / "blocks" / block / "run.json").read_bytes()) for block in ("B01", "B02")
    ]
    assert told[0]["measured"] == told[1]["measured"]
    assert told[0]["config"]["states"] == told[1]["config"]["states"]
    assert told[0]["config"]["states"]["friction"] != 0.2


def test_the_sample_recovers_the_truth_it_was_made_from() -> None:
    spec = importlib.util.spec_from_file_location("made", ROOT / "sample_data" / "encosta_nova" / "make_measured.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    found = api.measured(load_config(ROOT / "configs" / "encosta_nova_measured.toml"), quick=True)
    learned = {one.learned.place: one.learned for one in found if one.learned is not None}
    for place, name in (
        ("states.friction", "friction"),
        ("posts.end_give_mm_per_kn", "end_give_mm_per_kn"),
        ("states.freed_higher_m", "freed_higher_m"),
        ("rates.run out", "run_out_minutes"),
    ):
        one = learned[place]
        assert one.taken
        assert one.value is not None
        assert one.sd is not None
        assert abs(one.value - made.TRUTH[name]) < 2.5 * one.sd, one.sentence
    assert learned["fixings.open clip, one staple"].value < made.TRUTH["clip_median_n"]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("B01-R002,lower,S001", "B01-R092,lower,S001", 'line 2, row: "B01-R092": there is no such row'),
        ("B01-R002,lower,S001", "B09-R002,lower,S001", 'line 2, row: "B09-R002": there is no block B09'),
        ("B01-R002,lower,S001", "B01-R002,louver,S001", '"louver": there is no such wire; did you mean lower?'),
        ("B01-R002,lower,S001", "B01-R002,lower,S401", '"S401": row B01-R002 has'),
        ("S001,tension,300", "S001,spring,300", "line 2, gauge"),
        ("S001,tension,300", "S001,tension,30000", "means 30000 N, more than the 4200 N at which wire lower breaks"),
        ("S001,tension,300", "S001,gauge,0.1", "0.1 is less than a wire without pull gives"),
        ("tension,300,15", "tension,300,95", "line 2, temperature_c"),
        ("tension,300,15", "tension,,15", "line 2, reading: the cell is empty"),
        ("temperature_c", "temperature", "unknown column"),
    ],
)
def test_readings_that_cannot_be_are_refused(one: "Estate", old: str, new: str, sentence: str) -> None:
    (one.folder / "tensions.csv").write_text(TENSIONS.replace(old, new, 1))
    done = one.command("check", more=MORE)
    assert done.exit_code == Exit.BAD_INPUT
    assert sentence in " ".join(done.stderr.split())
    assert "tensions.csv" in done.stderr


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda pull: pull / 9.80665, "of what the plan has; in kilograms, as it seems: 9.81 N each."),
        (lambda pull: pull * 10.0 if pull == 249.0 else pull, "look for one that is off, first in line 4."),
    ],
    ids=["kilograms", "a nought too many"],
)
def test_readings_that_do_not_fit_the_wires_are_told_and_not_taken(
    one: "Estate", change: Callable[[float], float], sentence: str
) -> None:
    head, *lines = TENSIONS.splitlines()
    cells = [line.split(",") for line in lines]
    changed = [",".join([*row[:4], f"{change(float(row[4])):.1f}", row[5]]) for row in cells]
    (one.folder / "tensions.csv").write_text("\n".join([head, *changed]) + "\n")
    done = one.command("plan", "--only", "schedule", more=MORE)
    assert done.exit_code == Exit.GOOD, done.stderr
    friction = next(each for each in one.record["measured"] if each["what"] == "friction")
    assert (friction["taken"], friction["off"]) == (False, True)
    assert sentence in friction["sentence"]
    assert one.record["config"]["states"]["friction"] == 0.2


def test_nothing_measured_is_nothing_to_tell(one: "Estate") -> None:
    done = one.command("measured")
    assert done.exit_code == Exit.BAD_INPUT
    assert "no file of [measured] is named" in done.stderr
    (one.folder / "tensions.csv").write_text("row,wire,place,gauge,reading,temperature_c\n")
    empty = one.command("plan", more=MORE)
    assert empty.exit_code == Exit.BAD_INPUT
    assert "there is no row below the header" in empty.stderr
