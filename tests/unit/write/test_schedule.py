"""The schedule's CSV files, read back by two readers that know nothing of the writer."""

import csv
import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from wirerun import tables
from wirerun.errors import TableError
from wirerun.findings import Finding
from wirerun.records import Plan, finding_table
from wirerun.tables import TABLES, Column, Table
from wirerun.write.schedule import csv_bytes, write_schedule

NUMBERS = Table("numbers", "", (), (Column("x_m", "number", "m", "", decimals=3, empty=True),))
WORDS = Table("words", "", (), (Column("a", "text", "", "", empty=True), Column("b", "text", "", "")))


def _lines(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


def _number_cells(*values: float) -> list[str]:
    data = csv_bytes(NUMBERS, pd.DataFrame({"x_m": np.array(values)}))
    return data.decode("utf-8-sig").split("\r\n")[1:-1]


def _word_cell(text: str | None) -> str:
    data = csv_bytes(WORDS, pd.DataFrame({"a": pd.Series([text], dtype="str"), "b": "x"}))
    return _lines(data)[1][0]


@pytest.mark.parametrize("name", TABLES)
def test_a_file_reads_back_with_every_value(plan: Plan, tmp_path: Path, name: str) -> None:
    write_schedule(plan, tmp_path / "schedule")
    table, wanted = TABLES[name], getattr(plan, name)
    back = pd.read_csv(tmp_path / "schedule" / f"{name}.csv", encoding="utf-8-sig", keep_default_na=False)
    assert list(back.columns) == table.names
    for column in table.columns:
        if column.kind == "text":
            texts = wanted[column.name].fillna("")
            assert back[column.name].str.removeprefix("'").tolist() == texts.str.removeprefix("'").tolist()
        else:
            numbers = pd.to_numeric(back[column.name], errors="raise").to_numpy(dtype=float)
            half_a_step = 0.5001 * 10.0**-column.decimals
            np.testing.assert_allclose(numbers, wanted[column.name].to_numpy(float), rtol=0, atol=half_a_step)


def test_every_table_has_its_file_and_no_other(plan: Plan, tmp_path: Path) -> None:
    write_schedule(plan, tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(f"{name}.csv" for name in TABLES)


def test_the_file_starts_with_the_mark_and_ends_every_line_with_crlf(plan: Plan, tmp_path: Path) -> None:
    write_schedule(plan, tmp_path)
    data = (tmp_path / "posts.csv").read_bytes()
    assert data.startswith(b"\xef\xbb\xbfpost_id,row_id,kind,")
    assert data.endswith(b"\r\n")
    assert data.count(b"\r\n") == data.count(b"\n") == data.count(b"\r") == 1 + len(plan.posts)


def test_numbers_carry_the_decimals_of_their_column(plan: Plan) -> None:
    lines = _lines(csv_bytes(tables.POSTS, plan.posts))
    named = dict(zip(lines[0], lines[2], strict=True))
    assert named["station_m"] == "6.000"
    assert named["lat"] == "41.170000000"
    assert named["ground_m"] == "403.100"
    assert named["grade_change_pct"] == "-5.00"


def test_a_whole_number_has_no_point(plan: Plan) -> None:
    lines = _lines(csv_bytes(tables.ROWS, plan.rows))
    assert dict(zip(lines[0], lines[1], strict=True))["posts"] == "5"


def test_nothing_is_an_empty_cell() -> None:
    assert _number_cells(1.0, np.nan, 2.0) == ["1.000", "", "2.000"]
    assert _word_cell(None) == ""


def test_zero_has_no_minus_but_every_other_number_keeps_it() -> None:
    values = (-0.0, -0.0004, -0.0006, -10.0004, -1.0, 0.0)
    assert _number_cells(*values) == ["0.000", "0.000", "-0.001", "-10.000", "-1.000", "0.000"]


def test_an_infinite_number_is_refused_by_name() -> None:
    with pytest.raises(TableError, match="table numbers, column x_m: an infinite number"):
        _number_cells(1.0, -np.inf)


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx", '=HYPERLINK("a","b")', "=a,b"])
def test_text_that_a_spreadsheet_would_run_is_guarded(text: str) -> None:
    assert _word_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["plain", "a=b", "B01-R001", " =1", "'", 'a"b', "a,b", "a\r\nb", "a\nb", "ção", ""])
def test_other_text_comes_back_as_it_was(text: str) -> None:
    assert _word_cell(text) == text


def test_quotes_stand_only_where_needed() -> None:
    frame = pd.DataFrame({"a": pd.Series(["plain", 'a"b', "a,b", "a\nb"], dtype="str"), "b": "x"})
    assert csv_bytes(WORDS, frame) == b'\xef\xbb\xbfa,b\r\nplain,x\r\n"a""b",x\r\n"a,b",x\r\n"a\nb",x\r\n'


def test_a_file_name_that_is_no_text_does_not_stop_the_plan() -> None:
    findings = finding_table([Finding("relief", "a\udcff.tif", "High.")])
    assert b"note,relief,a\\udcff.tif,High.\r\n" in csv_bytes(tables.FINDINGS, findings)


def test_a_table_without_lines_has_its_header(bare_plan: Plan, tmp_path: Path) -> None:
    write_schedule(bare_plan, tmp_path)
    for name, table in TABLES.items():
        assert (tmp_path / f"{name}.csv").read_bytes() == b"\xef\xbb\xbf" + ",".join(table.names).encode() + b"\r\n"


def test_columns_beyond_the_table_are_left_out(plan: Plan) -> None:
    more = replace(plan, posts=plan.posts.assign(secret=1))
    assert csv_bytes(tables.POSTS, more.posts) == csv_bytes(tables.POSTS, plan.posts)


def test_a_large_table_reads_back_whole(plan_maker: Callable[..., Plan]) -> None:
    large = plan_maker((51,) * 40)
    back = pd.read_csv(io.BytesIO(csv_bytes(tables.SPANS, large.spans)), encoding="utf-8-sig")
    assert len(back) == 40 * 50 * 2
    np.testing.assert_allclose(back["cut_m"], large.spans["cut_m"], rtol=0, atol=0.50001e-4)
