"""A disk that is full at any moment: one sentence and the old result, never half a file that passes for a whole one."""

import resource
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from wirerun.errors import Exit, TargetError
from wirerun.records import Plan
from wirerun.settings.ground import FORMATS, Format
from wirerun.write.record import is_result
from wirerun.write.result import PARTS, write_result

ROWS = (40, 33, 47, 21)


@contextmanager
def room_for(count: int) -> Iterator[None]:
    """Let no file grow beyond so many bytes: to a writer, the same as a disk that is full."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (count, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


def with_formats(plan: Plan, *formats: Format) -> Plan:
    output = plan.config.output.model_copy(update={"formats": formats})
    return replace(plan, config=plan.config.model_copy(update={"output": output}))


def sizes(folder: Path) -> dict[str, int]:
    return {path.relative_to(folder).as_posix(): path.stat().st_size for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def larger(plan_maker: Callable[..., Plan]) -> Plan:
    """Return a plan whose files take many writes."""
    return plan_maker(ROWS)


@pytest.mark.parametrize("name", ["schedule", "gis", "map", "cards", *FORMATS])
def test_a_full_disk_is_told_and_the_old_result_stays(
    larger: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    formats = tuple(one for one in FORMATS if one == name)
    plan, only = with_formats(larger, *formats), (name if name in PARTS else "gis",)
    if formats:  # the GeoPackage, which comes with each, would fill the disk first
        monkeypatch.setattr("wirerun.write.result.write_gis", lambda *_: None)
    target = tmp_path / "plan"
    write_result(plan, target, overwrite=False, only=only)
    meant, mark = sizes(target), (target / "run.json").stat().st_ino
    largest = max(size for path, size in meant.items() if not path.startswith(("data_dictionary", "run.json")))
    for room in (largest - 1, largest - 500, largest // 2, largest // 10):
        with pytest.raises(TargetError) as caught, room_for(room):
            write_result(plan, target, overwrite=True, only=only)
        assert caught.value.exit_code == Exit.USAGE
        sentence = str(caught.value)
        assert sentence.startswith(f"{target} cannot be written: ")
        assert f".{target.name}." not in sentence
        assert (target / "run.json").stat().st_ino == mark
        assert is_result(target, verify=True)
        assert sizes(target) == meant
        assert [path.name for path in tmp_path.iterdir()] == ["plan"]


@pytest.mark.parametrize(("name", "end"), [("shapefile", "shx"), ("shapefile", "dbf"), ("flatgeobuf", "fgb")])
def test_a_writer_that_says_nothing_is_found_out(
    larger: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: Format, end: str
) -> None:
    """As on a disk with no room for the last block: the library closes the file and is content."""
    import pyogrio  # noqa: PLC0415 - to break its writer

    write = pyogrio.write_dataframe

    def cut(frame: object, path: Path, **options: object) -> None:
        write(frame, path, **options)
        part = path.with_suffix(f".{end}")
        if path.stem == "spans" and part.exists() and path.suffix != ".gpkg":
            part.write_bytes(part.read_bytes()[:-700])

    monkeypatch.setattr(pyogrio, "write_dataframe", cut)
    with pytest.raises(TargetError) as caught:
        write_result(with_formats(larger, name), tmp_path / "plan", overwrite=False, only=["gis"])
    assert f"(gis/{name}/spans." in str(caught.value)
    assert "MB are free there" in str(caught.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("fault", ["short", "one number"])
def test_a_geoparquet_file_that_is_not_what_was_meant_is_found_out(
    larger: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: str
) -> None:
    import geopandas as gpd  # noqa: PLC0415 - to break its writer

    write = gpd.GeoDataFrame.to_parquet

    def spoilt(frame: gpd.GeoDataFrame, path: Path, **options: Any) -> None:  # noqa: ANN401 - the writer's
        if path.stem == "spans" and fault == "one number":
            frame = frame.assign(sag_mm=frame["sag_mm"] + (frame.index == 3))
        write(frame, path, **options)
        if path.stem == "spans" and fault == "short":
            path.write_bytes(path.read_bytes()[:-700])

    monkeypatch.setattr(gpd.GeoDataFrame, "to_parquet", spoilt)
    with pytest.raises(TargetError, match=r"gis/geoparquet/spans\.parquet") as caught:
        write_result(with_formats(larger, "geoparquet"), tmp_path / "plan", overwrite=False, only=["gis"])
    assert "it does not read as it was written; " in str(caught.value)
    assert list(tmp_path.iterdir()) == []


def test_an_index_that_was_not_written_is_found_out(
    larger: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import pyogrio  # noqa: PLC0415 - to break its writer

    write = pyogrio.write_dataframe

    def forget(frame: object, path: Path, **options: object) -> None:
        write(frame, path, **options)
        if options["layer"] == "zones":
            base = sqlite3.connect(path)
            base.execute("DELETE FROM rtree_spans_geom WHERE id > 50")
            base.commit()
            base.close()

    monkeypatch.setattr(pyogrio, "write_dataframe", forget)
    with pytest.raises(TargetError, match=r"layer spans does not read as it was written.*\(gis/plan\.gpkg\)"):
        write_result(larger, tmp_path / "plan", overwrite=False, only=["gis"])


def test_nothing_is_written_to_the_folder_for_temporary_files(
    larger: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may be full, and what lies there when a run is killed stays there."""
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir(mode=0o500)
    monkeypatch.setenv("TMPDIR", str(elsewhere / "not-there"))
    monkeypatch.setattr("tempfile.tempdir", str(elsewhere / "not-there"))
    write_result(with_formats(larger, *FORMATS), tmp_path / "plan", overwrite=False)
    assert list(elsewhere.iterdir()) == []
