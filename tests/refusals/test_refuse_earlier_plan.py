"""Every way the folder of an earlier plan can be wrong, and the sentence for it."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from wirerun.errors import Exit, Faults
from wirerun.read.earlier import read_earlier

if TYPE_CHECKING:
    from tests.conftest import Estate

HEAD = "row_id,block_id,origin,moved_m,line"
GOOD = 'B01-R001,B01,numbered,,"LINESTRING (-7.6 41.2, -7.601 41.2)"'
TABLE = "old/schedule/row_ids.csv"
UNTOLD = (
    "the plan there has no schedule/row_ids.csv: it was made without its schedule, or by an older version; make it anew"
)
WANTED = "the folder of an earlier plan is wanted"


def put(folder: Path, *lines: str, head: str = HEAD) -> None:
    """Write a plan's folder by hand: its record and its table of ids, which agree."""
    (folder / "old" / "schedule").mkdir(parents=True, exist_ok=True)
    raw = "\r\n".join([head, *lines, ""]).encode()
    (folder / "old" / "schedule" / "row_ids.csv").write_bytes(raw)
    put_record(folder, {"schedule/row_ids.csv": {"sha256": hashlib.sha256(raw).hexdigest(), "bytes": len(raw)}})


def put_record(folder: Path, outputs: object, form: object = 1) -> None:
    (folder / "old").mkdir(exist_ok=True)
    (folder / "old" / "run.json").write_text(json.dumps({"format": form, "name": "x", "outputs": outputs}))


def told(folder: Path, given: str = "old") -> list[str]:
    faults = Faults()
    read = read_earlier(given, folder, faults)
    assert (read is None) == bool(faults)
    assert all(fault.exit_code == Exit.BAD_INPUT for fault in faults)
    return [str(fault).replace(str(folder), "/here") for fault in faults]


def test_a_good_folder_is_read(tmp_path: Path) -> None:
    gone = 'Ost-R2-R012c,Ost-R2,gone,,"LINESTRING (1 2, 3 4, 5 6)"'
    put(tmp_path, GOOD, 'B01-R1000,B01,kept,0.1,"LINESTRING (0 0, 1 1)"', gone)
    faults = Faults()
    read = read_earlier("old", tmp_path, faults)
    assert read is not None
    assert set(read.of_block) == {"B01", "Ost-R2"}
    rows, other = read.rows_of("B01"), read.rows_of("Ost-R2")
    assert (rows.row_id, rows.number.tolist(), rows.piece.tolist()) == (("B01-R001", "B01-R1000"), [1, 1000], [0, 0])
    assert rows.lines[0].tolist() == [[-7.6, 41.2], [-7.601, 41.2]]
    assert (rows.living.tolist(), other.living.tolist(), other.piece.tolist()) == ([True, True], [False], [2])
    assert read.rows_of("B07").row_id == ()
    assert read.file.given == "old/schedule/row_ids.csv"


def no_folder(folder: Path) -> None:
    (folder / "older").mkdir()


def a_file(folder: Path) -> None:
    (folder / "old").write_text("x")


def a_foreign_folder(folder: Path) -> None:
    (folder / "old").mkdir()
    (folder / "old" / "rows.csv").write_text("row_id\nB01-R001\n")


def no_json(folder: Path) -> None:
    put(folder, GOOD)
    (folder / "old" / "run.json").write_text('{"format": 1, "outp')


def empty_record(folder: Path) -> None:
    put(folder, GOOD)
    (folder / "old" / "run.json").write_text("")


def other_record(folder: Path) -> None:
    put_record(folder, ["a"])


def other_format(folder: Path) -> None:
    put_record(folder, {}, form=7)


def no_schedule(folder: Path) -> None:
    put_record(folder, {"map.html": {}})


def no_table(folder: Path) -> None:
    put(folder, GOOD)
    (folder / "old" / "schedule" / "row_ids.csv").unlink()


def cut_short(folder: Path) -> None:
    put(folder, GOOD, GOOD.replace("R001", "R002"))
    path = folder / "old" / "schedule" / "row_ids.csv"
    path.write_bytes(path.read_bytes()[:-70])


@pytest.mark.parametrize(
    ("broken", "sentence"),
    [
        (no_folder, "old: there is no such folder; looked for /here/old"),
        (a_file, f"old: this is a file; {WANTED}"),
        (a_foreign_folder, f"old: it has no run.json, so it is no finished plan; {WANTED}"),
        (no_json, f"old/run.json: it is damaged: this is no JSON; {WANTED}"),
        (empty_record, "old/run.json: the file is empty (0 bytes)"),
        (other_record, f"old/run.json: this is not the record of a plan; {WANTED}"),
        (other_format, "old/run.json, format: 7; this version reads format 1"),
        (
            no_schedule,
            f"old: {UNTOLD}",
        ),
        (
            no_table,
            "old/schedule/row_ids.csv: there is no such file; looked for /here/old/schedule/row_ids.csv",
        ),
        (
            cut_short,
            f"{TABLE}: it was changed since the plan wrote it: its SHA-256 is not that of run.json; make the plan anew",
        ),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_a_folder_that_is_no_whole_plan(tmp_path: Path, broken: Callable[[Path], None], sentence: str) -> None:
    broken(tmp_path)
    assert told(tmp_path) == [sentence]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        (GOOD.replace("B01-R001", "B02-R001"), 'line 3, row_id: "B02-R001" is no row of block "B01"'),
        (GOOD.replace("R001", "R1aa"), 'line 3, row_id: "B01-R1aa" is no row of block "B01"'),
        (GOOD.replace("R001", "R99999999999"), 'line 3, row_id: "B01-R99999999999" is no row of block "B01"'),
        (GOOD, 'line 3, row_id: "B01-R001" is there twice'),
        (
            GOOD.replace("R001", "R002").replace("numbered", "lost"),
            'line 3, origin: "lost" is not one of numbered, kept, new, gone',
        ),
        ("B01-R002,B01,new", 'line 3, line: "" is no line in longitude and latitude'),
        (
            "B01-R002,B01,new,,POINT (1 2)",
            'line 3, line: "POINT (1 2)" is no line in longitude and latitude',
        ),
        (
            'B01-R002,B01,new,,"LINESTRING (600000 4562000, 600100 4562000)"',
            'line 3, line: "LINESTRING (600000 4562000, 600100 45620" is no line in longitude and latitude',
        ),
        (
            'B01-R002,B01,new,,"LINESTRING (1 1, 1 1)"',
            'line 3, line: "LINESTRING (1 1, 1 1)" is no line in longitude and latitude',
        ),
        ("B01-R002,B01,new,,LINESTRI", 'line 3, line: "LINESTRI" is no line in longitude and latitude'),
    ],
)
def test_a_line_that_no_plan_writes(tmp_path: Path, line: str, sentence: str) -> None:
    put(tmp_path, GOOD, line)
    assert told(tmp_path) == [f"old/schedule/row_ids.csv, {sentence}"]


def test_a_table_of_an_older_version(tmp_path: Path) -> None:
    put(tmp_path, GOOD, head="row_id,block_id,moved_m")
    wanted = "line 1: there is no column origin, line; an older version wrote it"
    assert told(tmp_path) == [f"old/schedule/row_ids.csv, {wanted}"]


def test_a_head_that_no_reader_takes(tmp_path: Path) -> None:
    put(tmp_path, GOOD, head="a" * 140_000)
    wanted = "line 1: not valid CSV: field larger than field limit (131072)"
    assert told(tmp_path) == [f"old/schedule/row_ids.csv, {wanted}"]


def test_the_command_refuses_before_anything_is_planned(make_estate: Callable[..., "Estate"]) -> None:
    estate: Any = make_estate(B01=[(-60.0, -15.0), (60.0, -15.0), (60.0, 15.0), (-60.0, 15.0)])
    for verb in ("check", "plan"):
        done = estate.command(verb, more='keep_ids = "no/such"\n')
        assert done.exit_code == Exit.BAD_INPUT
        assert f"error: no/such: there is no such folder; looked for {estate.folder}/no/such" in done.stderr
    assert not (estate.folder / "out").exists()


def test_a_plan_of_other_blocks_is_refused_once(make_estate: Callable[..., "Estate"], tmp_path: Path) -> None:
    here = [(-60.0, -15.0), (0.0, -15.0), (0.0, 15.0), (-60.0, 15.0)]
    estate: Any = make_estate(B01=here, B02=[(x + 62.0, y) for x, y in here])
    put(estate.folder, GOOD.replace("B01", "Far"))
    done = estate.command("plan", more='keep_ids = "old"\n')
    assert done.exit_code == Exit.BAD_INPUT
    assert done.stderr.count("error: old: the plan there is of other blocks (Far); this one is of B01, B02") == 1
    put(estate.folder, GOOD.replace("B01", "B02"))
    assert estate.command("check", more='keep_ids = "old"\n').exit_code == Exit.GOOD
    assert tmp_path in estate.folder.parents
