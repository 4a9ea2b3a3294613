"""Every way a folder can be no finished plan to compare, and the sentence for it."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from wirerun.errors import Exit, Faults
from wirerun.read.finished import read_finished

TABLES = {
    "rows": "row_id,length_m\r\nB01-R001,12.000\r\n",
    "posts": "post_id,row_id\r\nB01-R001-P001,B01-R001\r\n",
    "clips": "post_id,row_id,wire_id\r\nB01-R001-P002,B01-R001,lower\r\n",
}


def put(folder: Path, tables: dict[str, str] = TABLES) -> None:
    """Write the folder of a plan by hand: its record and its tables, which agree."""
    (folder / "schedule").mkdir(parents=True)
    outputs = {}
    for name, text in tables.items():
        (folder / "schedule" / f"{name}.csv").write_bytes(text.encode())
        outputs[f"schedule/{name}.csv"] = {"sha256": hashlib.sha256(text.encode()).hexdigest(), "bytes": len(text)}
    (folder / "run.json").write_text(json.dumps({"format": 1, "name": "x", "outputs": outputs}))


def told(folder: Path) -> list[str]:
    faults = Faults()
    read = read_finished(str(folder), faults)
    assert (read is None) == bool(faults)
    assert all(fault.exit_code == Exit.BAD_INPUT for fault in faults)
    return [str(fault).replace(str(folder), "plan") for fault in faults]


def test_a_good_folder_is_read_as_text(tmp_path: Path) -> None:
    put(tmp_path / "plan")
    read = read_finished(str(tmp_path / "plan"), Faults())
    assert read is not None
    assert read.tables["rows"].to_dict("records") == [{"row_id": "B01-R001", "length_m": "12.000"}]
    assert set(read.tables) == {"rows", "posts", "clips"}


def no_folder(folder: Path) -> None:
    folder.with_name("other").mkdir()


def a_file(folder: Path) -> None:
    folder.write_text("x")


def a_foreign_folder(folder: Path) -> None:
    folder.mkdir()
    (folder / "posts.csv").write_text("a")


def a_broken_record(folder: Path) -> None:
    put(folder)
    (folder / "run.json").write_text('{"format": 1')


def a_later_format(folder: Path) -> None:
    put(folder)
    (folder / "run.json").write_text('{"format": 2, "outputs": {}}')


def a_record_without_inputs(folder: Path) -> None:
    put(folder)
    record = json.loads((folder / "run.json").read_text())
    (folder / "run.json").write_text(json.dumps(record | {"inputs": None}))


def no_schedule(folder: Path) -> None:
    put(folder, {"rows": TABLES["rows"], "posts": TABLES["posts"]})


def a_changed_table(folder: Path) -> None:
    put(folder)
    (folder / "schedule" / "posts.csv").write_text(TABLES["posts"].replace("P001", "P901"))


def a_missing_table(folder: Path) -> None:
    put(folder)
    (folder / "schedule" / "clips.csv").unlink()


def no_ids(folder: Path) -> None:
    put(folder, TABLES | {"clips": "post_id,row_id\r\nB01-R001-P002,B01-R001\r\n"})


def a_torn_table(folder: Path) -> None:
    put(folder, TABLES | {"clips": 'post_id,row_id,wire_id\r\n"B01\r\n'})


def too_wide_a_table(folder: Path) -> None:
    put(folder, TABLES | {"clips": "a" + ",a" * 50_000 + "\r\n"})


CHANGED = "it was changed since the plan wrote it: its SHA-256 is not that of run.json"
WANTED = "the folder of a finished plan is wanted"


@pytest.mark.parametrize(
    ("broken", "sentence"),
    [
        (no_folder, "plan: there is no such folder; looked for plan"),
        (a_file, f"plan: this is a file; {WANTED}"),
        (a_foreign_folder, f"plan: it has no run.json, so it is no finished plan; {WANTED}"),
        (a_broken_record, f"plan/run.json: it is damaged: this is no JSON; {WANTED}"),
        (a_later_format, "plan/run.json, format: 2; this version reads format 1"),
        (a_record_without_inputs, f"plan/run.json, inputs: it is damaged, or another version wrote it; {WANTED}"),
        (no_schedule, "plan: the plan there has no schedule/clips.csv: it was made without its schedule; make it anew"),
        (
            a_changed_table,
            f"plan/schedule/posts.csv: {CHANGED}; make the plan anew",
        ),
        (a_missing_table, "plan/schedule/clips.csv: there is no such file"),
        (too_wide_a_table, "plan/schedule/clips.csv, line 1: 50001 columns are of no plan; at most 500 are read"),
        (no_ids, "plan/schedule/clips.csv, line 1: there is no column wire_id; an older version wrote it"),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_folder_that_is_no_plan(broken: Callable[[Path], None], sentence: str, tmp_path: Path) -> None:
    broken(tmp_path / "plan")
    assert [said.split("; did you")[0] for said in told(tmp_path / "plan")] == [sentence]


def test_a_torn_table_is_told(tmp_path: Path) -> None:
    a_torn_table(tmp_path / "plan")
    (said,) = told(tmp_path / "plan")
    assert said.startswith("plan/schedule/clips.csv: it is damaged: ")
