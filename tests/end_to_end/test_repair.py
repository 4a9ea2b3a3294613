"""A broken or a slack wire: what the command says, against the plan of the same row, and what it refuses."""

import json
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import pandas as pd
import pytest
from wirerun.errors import Exit

if TYPE_CHECKING:
    from tests.conftest import Estate

LEFT = [(-68.0, -12.0), (2.0, -14.0), (0.0, 10.0), (-64.0, 12.0)]
RIGHT = [(6.0, -15.0), (40.0, -12.0), (35.0, 15.0), (8.0, 12.0)]
MORE = """
[posts]
end_give_mm_per_kn = 20.0
"""


@pytest.fixture
def one(make_estate: Callable[..., "Estate"]) -> "Estate":
    """Return a block of long and wavy rows."""
    return make_estate(B01=LEFT)


def told(estate: "Estate", *words: str, more: str = "") -> list[dict[str, Any]]:
    done = estate.command("repair", *words, "--json", more=more)
    assert done.exit_code == Exit.GOOD, done.stderr
    found: list[dict[str, Any]] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("more", ["", MORE], ids=["ends that stand", "ends that give"])
def test_a_tightened_wire_is_the_planned_one(one: "Estate", more: str) -> None:
    """The tension of the day is that of the plan's sheet, and the strainer's pull that of its table."""
    done = one.command("plan", "--only", "schedule", more=more + "[check]\ntemperatures_c = [15.0, 0.0]\n")
    assert done.exit_code == Exit.GOOD, done.stderr
    tables = one.folder / "out" / "schedule"
    check = pd.read_csv(tables / "tension_check.csv").set_index(["row_id", "wire_id", "temperature_c"])
    wires = pd.read_csv(tables / "wires.csv").set_index(["row_id", "wire_id"])
    for celsius in (15.0, 0.0):
        for wire in told(one, "3", "--temperature", str(celsius), more=more):
            line = check.xs(("B01-R003", wire["wire_id"], celsius))
            assert wire["tension_n"] == pytest.approx(line["tension_n"], abs=0.01)
            assert wire["gauge_n"] == pytest.approx([line["gauge_n"], line["gauge_stuck_n"]], abs=0.01)
    as_strung = {wire["wire_id"]: wire for wire in told(one, "3", more=more)}
    for name, wire in as_strung.items():
        plan = wires.loc[("B01-R003", name)]
        if more:
            assert wire["pull_mm"] > plan["strain_pull_mm"] + 5.0  # the posts come in by what they gave back
        else:
            assert wire["pull_mm"] == pytest.approx(plan["strain_pull_mm"], abs=0.51)


def test_a_break_keeps_the_length_and_the_ends_draw_back_by_the_stretch(one: "Estate") -> None:
    (wire,) = told(one, "B01-R003", "--wire", "lower", "--at", "P005", "--missing-m", "0.2")
    broken = wire["broken"]
    assert broken["piece_m"] == pytest.approx(0.2 + 2 * 0.5 + 2 * 0.15)
    assert sum(broken["drawn_back_mm"]) == pytest.approx(wire["pull_mm"], abs=0.01)
    assert broken["pieces"] == 2
    assert broken["bears_n"] == pytest.approx(0.44 * 4200.0)  # no better is known of the joiner than of a knot
    (end,) = told(one, "B01-R003", "--wire", "lower", "--at", "P001")
    assert end["broken"]["at_end"]
    assert end["broken"]["pieces"] == 1
    assert end["broken"]["drawn_back_mm"][0] == 0.0
    (far,) = told(one, "B01-R003", "--wire", "lower", "--at", "S007")
    assert far["broken"]["drawn_back_mm"][0] > broken["drawn_back_mm"][0]


def test_a_reading_says_how_much_to_take_up(one: "Estate") -> None:
    (right,) = told(one, "B01-R003", "--wire", "lower")
    (same,) = told(one, "B01-R003", "--wire", "lower", "--reads", f"{right['gauge_n'][0]}")
    assert abs(same["read"]["take_up_mm"]) < 0.05
    (half,) = told(one, "B01-R003", "--wire", "lower", "--reads", f"{0.5 * right['gauge_n'][0]}")
    # What the stretch lacks, and the slack of the sag: w^2 l^3 / (24 T^2) a span of some 5.7 m, w 0.378 N/m.
    now, wanted = half["read"]["tension_n"], right["tension_n"]
    sag_mm = 1000.0 * 9 * 0.378**2 * 5.7**3 / 24.0 * (1.0 / now**2 - 1.0 / wanted**2)
    assert half["read"]["take_up_mm"] == pytest.approx((1.0 - now / wanted) * right["pull_mm"] + sag_mm, rel=0.01)
    (tight,) = told(one, "B01-R003", "--wire", "lower", "--reads", f"{1.5 * right['gauge_n'][0]}")
    assert tight["read"]["take_up_mm"] < 0.0


def test_words_fit_eighty_columns_and_warn(one: "Estate") -> None:
    done = one.command("repair", "3", "--wire", "upper", "--at", "S004", "--missing-m", "0.35")
    assert done.exit_code == Exit.GOOD, done.stderr
    assert max(map(len, done.stdout.split("\n"))) <= 80
    assert "Row B01-R003, wire upper, broken at P004 to P005" in done.stdout
    for word in ("eye protection", "grip", "in line with", "Local codes and licensed practice"):
        assert word in " ".join(done.stdout.split())


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("abc",), "row abc: this is no row; wanted is one such as B01-R012, or its number"),
        (("B07-R001",), "row B07-R001: there is no block B07; there are B01, B02"),
        (("3",), "row 3: there are 2 blocks; which row is meant? B01-R003, B02-R003"),
        (("B01-R333",), "row B01-R333: there is no such row"),
        (("b01-3", "--wire", "louver"), "wire louver: there is no such wire; did you mean lower?"),
        (("b01-3", "--at", "P004"), "row B01-R003: say which wire broke with --wire: lower, upper"),
        (("b01-3", "--wire", "lower", "--at", "P099"), "--at P099: row B01-R003 has"),
        (("b01-3", "--wire", "lower", "--at", "B01-R004-P002"), "that is a place in another row than B01-R003"),
        (("b01-3", "--wire", "lower", "--at", "here"), "--at here: this is no place in the row"),
        (("b01-3", "--wire", "lower", "--reads", "900"), "--reads 900: that would be"),
        (("b01-3", "--wire", "lower", "--at", "P004", "--reads", "9"), "--reads 9: a broken wire reads nothing"),
    ],
)
def test_what_is_not_in_the_plan_is_refused(
    make_estate: Callable[..., "Estate"], words: tuple[str, ...], sentence: str
) -> None:
    done = make_estate(B01=LEFT, B02=RIGHT).command("repair", *words)
    assert done.exit_code == Exit.BAD_INPUT
    assert sentence in " ".join(done.stderr.split())
    assert not done.stdout
