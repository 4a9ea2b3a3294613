"""Numbers of rows and ids kept, in blocks small enough to name every row by hand. Plane metres, rows run north."""

from math import cos, radians, sin

import numpy as np
import pytest
from wirerun.errors import SettingError
from wirerun.findings import Findings
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.geometry.station import Paths
from wirerun.ids import row_parts
from wirerun.model.layout import NamedRows, Rows
from wirerun.records import EarlierRows
from wirerun.settings import RowSettings
from wirerun.stages.layout.numbering import name_rows, nameless

FRAME = Frame(-7.6, 41.2, 300.0)
Xy = list[tuple[float, float]]


def north(x_m: float, *spans: tuple[float, float]) -> list[Xy]:
    """Rows on one line at `x_m`, from one place to another along it."""
    return [[(x_m, low), (x_m, high)] for low, high in spans]


def name(
    lines: list[list[Xy]], earlier: EarlierRows | None = None, side: str = "left", notes: Findings | None = None
) -> NamedRows:
    """Name the rows of lines, from the left; spacing 2 m."""
    shapes = [np.array(row, dtype=np.float64) for line in lines for row in line]
    paths = Paths.from_lines(shapes)
    rows = Rows("B01", nameless(len(shapes)), np.zeros(len(shapes)), paths.length_m, paths)
    line = np.repeat(np.arange(len(lines)), [len(each) for each in lines])
    rules = RowSettings.model_validate({"bearing_deg": 0.0, "spacing_m": 2.0, "first_row": side})
    return name_rows(rows, line, FRAME, rules, earlier, Findings() if notes is None else notes)


def earlier_of(rows: dict[str, Xy], gone: tuple[str, ...] = ()) -> EarlierRows:
    lonlat = tuple(FRAME.to_lonlat(PlaneXY.of(np.array(xy, dtype=np.float64))).stacked() for xy in rows.values())
    parts = np.array([row_parts(f"B01-{row}", "B01") for row in rows], dtype=np.int64).reshape(-1, 2)
    living = np.array([row not in gone for row in rows])
    return EarlierRows("old", tuple(f"B01-{row}" for row in rows), parts[:, 0], parts[:, 1], living, lonlat)


def ids(named: NamedRows) -> list[str]:
    return [row.removeprefix("B01-") for row in named.rows.row_id]


def test_pieces_of_a_line_share_its_number_and_empty_lines_take_none() -> None:
    named = name([north(0, (0, 40), (60, 90)), [], north(4, (0, 90)), north(6, (0, 10), (20, 30), (40, 90))])
    assert ids(named) == ["R001", "R001b", "R002", "R003", "R003b", "R003c"]
    assert set(named.origin) == {"numbered"}
    assert np.isnan(named.moved_m).all()


@pytest.mark.parametrize(("side", "first"), [("left", 0.0), ("west", 0.0), ("right", 4.0), ("east", 4.0)])
def test_the_first_row_lies_at_the_named_side(side: str, first: float) -> None:
    """Rows that run north: west is left. The rows come in order of number, each with its own line."""
    named = name([north(x, (x, 50.0 + 2.0 * x)) for x in (0.0, 2.0, 4.0)], side=side)
    paths = named.rows.paths
    assert ids(named) == ["R001", "R002", "R003"]
    assert paths.x_m[paths.first].tolist() == [first, 2.0, 4.0 - first]
    assert paths.y_m[paths.first].tolist() == paths.x_m[paths.first].tolist()
    assert named.rows.length_m.tolist() == [50.0 + first, 52.0, 54.0 - first]


@pytest.mark.parametrize("side", ["north", "south"])
def test_rows_that_run_north_have_no_northern_side(side: str) -> None:
    with pytest.raises(SettingError, match=rf'rows\.first_row = "{side}": square to the rows is 90\.0 degrees off'):
        name([north(0, (0, 40))], side=side)


@pytest.mark.parametrize(("side", "along_deg"), [("north", 0.0), ("south", 0.0), ("east", 90.0), ("west", 90.0)])
def test_square_to_the_rows_may_be_85_degrees_off_a_side_and_no_more(side: str, along_deg: float) -> None:
    """Rows that run 4 degrees off the way along that side lie 86 degrees off it, at 6 degrees 84."""
    near, far = (
        [[[(0.0, 0.0), (50.0 * sin(radians(along_deg + off)), 50.0 * cos(radians(along_deg + off)))]]]
        for off in (4.0, 6.0)
    )
    with pytest.raises(SettingError, match=rf"square to the rows is 86\.0 degrees off {side}, at most 85 will do"):
        name(near, side=side)
    assert ids(name(far, side=side)) == ["R001"]


def test_a_ring_of_rows_faces_no_side_and_a_bow_faces_its_back() -> None:
    """Arcs about one middle, walked clockwise, left is outside: a bow over the top has its back to the north."""
    angle = np.radians(np.linspace(350.0, 10.0, 60))
    ring = [[list(zip(r * np.cos(angle), r * np.sin(angle), strict=True))] for r in (30.0, 28.0)]
    with pytest.raises(SettingError, match="off north"):
        name(ring, side="north")
    angle = np.radians(np.linspace(170.0, 10.0, 60))
    bow = [[list(zip(r * np.cos(angle), r * np.sin(angle), strict=True))] for r in (30.0, 28.0)]
    outer = name(bow, side="north").rows.paths
    assert np.hypot(outer.x_m[0], outer.y_m[0]) == pytest.approx(30.0)
    inner = name(bow, side="south").rows.paths
    assert np.hypot(inner.x_m[0], inner.y_m[0]) == pytest.approx(28.0)


def test_rows_moved_shortened_and_lengthened_are_the_same_rows() -> None:
    earlier = earlier_of({"R005": [(0, 0), (0, 50)], "R006": [(2, 0), (2, 50)], "R007": [(4, 0), (4, 50)]})
    notes = Findings("B01")
    named = name([north(0.9, (30, 50)), north(2.9, (-40, 80)), north(4.9, (0, 50)), north(6.9, (0, 50))], earlier)
    assert ids(named) == ["R005", "R006", "R007", "R008"]
    assert named.origin.tolist() == ["kept", "kept", "kept", "new"]
    np.testing.assert_allclose(named.moved_m[:3], 0.9, atol=1e-6)
    assert np.isnan(named.moved_m[3])
    said = Findings("B01")
    name([north(0.9, (30, 50)), north(2, (0, 50))], earlier, notes=said)
    assert said[0].message.startswith("2 rows keep the id of old, 0.90 m from it at most, 0 new, 1 gone (B01-R007);")
    # Half a spacing on, nothing is the same.
    named = name([north(1.001, (0, 50)), north(3.001, (0, 50))], earlier_of({"R005": [(0, 0), (0, 50)]}), notes=notes)
    assert ids(named) == ["R006", "R007"]
    assert named.gone_id.tolist() == ["B01-R005"]
    assert [note.code for note in notes] == ["ids-not-kept"]
    assert notes[0].message == (
        "0 rows keep the id of old, 2 new (B01-R006, B01-R007), 1 gone (B01-R005); same is what runs nearer than 1 m "
        "to it; row_ids.csv lists all."
    )


def test_a_new_row_between_old_ones_gets_a_number_that_was_never_used() -> None:
    earlier = earlier_of(
        {"R001": [(0, 0), (0, 50)], "R002": [(4, 0), (4, 50)], "R009": [(90, 0), (90, 50)]}, gone=("R009",)
    )
    notes = Findings("B01")
    named = name([north(0, (0, 50)), north(2, (0, 50)), north(4, (0, 50)), north(6, (0, 50))], earlier, notes=notes)
    # In order of place, not of number; the number of a row that was gone before is not given again.
    assert ids(named) == ["R001", "R010", "R002", "R011"]
    assert named.gone_id.tolist() == ["B01-R009"]
    assert [note.code for note in notes] == ["ids-kept"]
    assert notes[0].message.startswith("2 rows keep the id of old, 2 new (B01-R010, B01-R011), 1 gone (B01-R009);")
    turned = name([north(0, (0, 50)), north(2, (0, 50)), north(4, (0, 50)), north(6, (0, 50))], earlier, side="right")
    assert ids(turned) == ["R010", "R002", "R011", "R001"]


def test_a_row_that_comes_back_has_its_own_id_again() -> None:
    earlier = earlier_of({"R001": [(0, 0), (0, 50)], "R002": [(2, 0), (2, 50)]}, gone=("R002",))
    named = name([north(0, (0, 50)), north(2, (0, 50))], earlier)
    assert ids(named) == ["R001", "R002"]
    assert not len(named.gone_id)


def test_what_still_stood_goes_before_what_was_gone() -> None:
    """A row 0.9 m from one that stands and 0.1 m from one long gone is the one that stands."""
    earlier = earlier_of({"R001": [(0, 0), (0, 50)], "R002": [(0.8, 0), (0.8, 50)]}, gone=("R002",))
    assert ids(name([north(0.9, (0, 50))], earlier)) == ["R001"]


def test_a_row_cut_in_two_keeps_its_id_at_the_start_and_letters_are_never_used_again() -> None:
    whole = earlier_of({"R003": [(0, 0), (0, 90)]})
    cut = name([north(0, (0, 30), (40, 90))], whole)
    assert ids(cut) == ["R003", "R003b"]
    assert cut.origin.tolist() == ["kept", "new"]
    halves = earlier_of({"R003": [(0, 0), (0, 30)], "R003b": [(0, 40), (0, 90)]})
    # A keep-out in the first piece: the second piece stays b.
    assert ids(name([north(0, (0, 10), (18, 30), (40, 90))], halves)) == ["R003", "R003c", "R003b"]
    # The keep-out between goes: one row, and b is gone.
    joined = name([north(0, (0, 90))], halves)
    assert (ids(joined), joined.gone_id.tolist()) == (["R003"], ["B01-R003b"])
    # Letters may be out of order along the line: what begins where c began is c, though it reaches to the end of b.
    parts = earlier_of({"R003": [(0, 0), (0, 10)], "R003b": [(0, 40), (0, 90)], "R003c": [(0, 18), (0, 30)]})
    assert ids(name([north(0, (0, 10), (18, 90))], parts)) == ["R003", "R003c"]
    # The first piece goes: b stays b.
    assert ids(name([north(0, (40, 90))], halves)) == ["R003b"]


def test_one_row_takes_one_id_however_many_lie_near() -> None:
    """Given rows may lie closer than half the spacing: each finds its own, the nearest first."""
    earlier = earlier_of({"R001": [(0, 0), (0, 50)], "R002": [(0.6, 0), (0.6, 50)], "R003": [(1.2, 0), (1.2, 50)]})
    named = name([north(x + 0.2, (0, 50)) for x in (0.0, 0.6, 1.2)], earlier)
    assert ids(named) == ["R001", "R002", "R003"]
    one = name([north(0.5, (0, 50))], earlier)
    assert (ids(one), one.gone_id.tolist()) == (["R002"], ["B01-R001", "B01-R003"])


def test_a_block_that_the_earlier_plan_does_not_have_is_numbered_from_1() -> None:
    notes = Findings("B01")
    named = name([north(0, (0, 50)), north(2, (0, 50))], earlier_of({}), notes=notes)
    assert ids(named) == ["R001", "R002"]
    assert set(named.origin) == {"new"}
    assert [note.code for note in notes] == ["ids-not-kept"]


def test_a_block_that_lost_all_its_rows() -> None:
    named = name([], earlier_of({"R001": [(0, 0), (0, 50)]}))
    assert (len(named.rows), named.gone_id.tolist()) == (0, ["B01-R001"])
