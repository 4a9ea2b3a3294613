"""Lines of a table that differ, on tables small enough to read; distances against a second geodesic library."""

import pandas as pd
import pytest
from geographiclib.geodesic import Geodesic
from wirerun.stages.compare.lines import compare_lines
from wirerun.tables import COSTS, POSTS, WIRES


def wires(*lines: tuple[str, str, str]) -> pd.DataFrame:
    return pd.DataFrame(lines, columns=["row_id", "wire_id", "run_out_m"], dtype="str")


def test_added_gone_and_changed_by_both_ids() -> None:
    before = wires(("R1", "low", "10.000"), ("R1", "top", "11.000"), ("R2", "low", "12.000"), ("R3", "low", "9.000"))
    after = wires(("R3", "low", "9.000"), ("R1", "top", "11.001"), ("R1", "low", "10.000"), ("R2", "top", "12.000"))
    made = compare_lines(WIRES, before, after, "B")
    assert made.lines[["id", "change"]].to_numpy().tolist() == [
        ["R1 top", "changed"],
        ["R2 low", "gone"],
        ["R2 top", "added"],
    ]
    assert made.lines["what"].fillna("").tolist() == ["run_out_m 11.000 > 11.001", "", ""]
    assert (made.same, [made.count(one) for one in ("added", "gone", "changed")]) == (2, [1, 1, 1])
    assert made.columns == {"run_out_m": 1}


def test_the_same_lines_in_another_order_are_the_same() -> None:
    before = wires(("R1", "low", "10.000"), ("R2", "low", "12.000"))
    made = compare_lines(WIRES, before, before[::-1], "B")
    assert (len(made.lines), made.same) == (0, 2)


def test_a_column_that_one_version_lacks_is_told_and_not_compared() -> None:
    before = wires(("R1", "low", "10.000"))
    made = compare_lines(WIRES, before, before.assign(knot_bears_n="4532.00"), "B")
    assert (len(made.lines), made.uncompared) == (0, ("knot_bears_n",))


def test_a_table_without_ids_is_told_apart_by_its_texts() -> None:
    before = pd.DataFrame({"part": ["wire", "sum"], "total": ["5.00", ""]}, dtype="str")
    after = pd.DataFrame({"part": ["wire", "sum"], "total": ["5.00", "7.00"]}, dtype="str")
    made = compare_lines(COSTS, before, after, "B")
    assert made.lines[["id", "change", "what"]].to_numpy().tolist() == [["sum", "changed", "total - > 7.00"]]


def test_how_far_a_post_moved_is_the_geodesic() -> None:
    def posts(lon: str, lat: str) -> pd.DataFrame:
        return pd.DataFrame({"post_id": ["P1"], "lon": [lon], "lat": [lat]}, dtype="str")

    made = compare_lines(POSTS, posts("-7.600000000", "41.200000000"), posts("-7.600030000", "41.200010000"), "B")
    expected = Geodesic.WGS84.Inverse(41.2, -7.6, 41.20001, -7.60003)["s12"]
    assert made.lines["moved_m"].item() == pytest.approx(expected, abs=1e-6)
    assert 2.0 < expected < 3.0
