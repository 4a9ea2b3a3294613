"""The run record: true, the same every time, and able to tell a finished result from anything else."""

import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from wirerun.errors import InputError
from wirerun.records import Plan
from wirerun.settings import Config
from wirerun.write.record import is_result, read_record, result_faults, write_record


@pytest.fixture
def folder(plan: Plan, tmp_path: Path) -> Path:
    place = tmp_path / "result"
    (place / "schedule").mkdir(parents=True)
    (place / "schedule" / "rows.csv").write_bytes(b"row_id\r\n")
    (place / "map.html").write_bytes(b"<html>")
    write_record(plan, place)
    return place


def test_the_record_counts_what_the_plan_holds(folder: Path) -> None:
    counts = read_record(folder)["counts"]
    assert counts == {
        "blocks": 1,
        "exclusions": 1,
        "rows": 2,
        "posts": 9,
        "two_way_posts": 1,
        "spans": 7,
        "sections": 1,
        "zones": 1,
        "coils": 1,
        "rows_left_out": 1,
        "left_out_m": 21.25,
        "wire_m": {"fruiting": pytest.approx(37.976, abs=0.0005), "lower": pytest.approx(75.952, abs=0.0005)},
        "hours": 6.25,
        "season_hours": 0.15,
        "cost": 124.23,
        "findings": {"note": 2, "warning": 1, "error": 0},
    }


def test_the_record_lists_every_other_file_with_its_hash_and_size(folder: Path) -> None:
    outputs = read_record(folder)["outputs"]
    assert list(outputs) == ["map.html", "schedule/rows.csv"]
    assert outputs["map.html"] == {"sha256": hashlib.sha256(b"<html>").hexdigest(), "bytes": 6}


def test_the_config_in_the_record_is_whole_and_makes_the_same_config(folder: Path, plan: Plan) -> None:
    config = read_record(folder)["config"]
    assert config["posts"]["max_span_m"] == 6.0
    assert [wire["held_by"] for wire in config["wires"]] == ["staple", "clip"]
    assert config["output"]["crs"] == "EPSG:25829"
    again = Config.model_validate_json(json.dumps(config))
    assert again.model_dump(exclude={"wires", "output"}) == plan.config.model_dump(exclude={"wires", "output"})


def test_the_record_names_inputs_crs_and_versions(folder: Path) -> None:
    record = read_record(folder)
    assert record["name"] == "encosta-nova"
    assert record["inputs"][0] == {"role": "boundary", "path": "block.geojson", "sha256": "ab" * 32}
    assert record["crs"]["output"] == "EPSG:25829"
    assert record["crs"]["frames"]["B01"]["mean_height_m"] == 403.123
    assert {"wirerun", "python", "numpy", "pandas", "geopandas", "pyproj", "gdal", "proj"} <= set(record["versions"])


def test_the_same_plan_gives_the_same_bytes_wherever_it_lies(folder: Path, plan: Plan, tmp_path: Path) -> None:
    first = (folder / "run.json").read_bytes()
    moved = folder.rename(tmp_path / "moved")
    write_record(plan, moved)
    assert (moved / "run.json").read_bytes() == first


def test_the_record_is_sorted_and_indented_and_holds_no_path_of_the_machine(folder: Path, tmp_path: Path) -> None:
    text = (folder / "run.json").read_text(encoding="utf-8")
    assert text == json.dumps(json.loads(text), indent=2, sort_keys=True, ensure_ascii=False) + "\n"
    assert str(tmp_path) not in text
    assert "seconds" not in text


def test_a_plan_without_rows_has_a_record(bare_plan: Plan, tmp_path: Path) -> None:
    write_record(bare_plan, tmp_path)
    counts = read_record(tmp_path)["counts"]
    assert (counts["rows"], counts["two_way_posts"]) == (0, 0)
    assert counts["wire_m"] == {"fruiting": 0.0, "lower": 0.0}


def test_a_file_name_that_is_no_text_comes_back(plan_maker: Callable[..., Plan], plan: Plan, tmp_path: Path) -> None:
    odd = type(plan.sources[0])("boundary", "a\udcff ção.tif", "00" * 32)
    write_record(plan_maker(sources=(odd,)), tmp_path)
    assert read_record(tmp_path)["inputs"][0]["path"] == "a\udcff ção.tif"


def test_a_finished_result_is_one(folder: Path) -> None:
    assert is_result(folder)
    assert is_result(folder, verify=True)


def test_a_missing_output_is_noticed(folder: Path) -> None:
    (folder / "map.html").unlink()
    assert result_faults(folder) == (f"{folder / 'map.html'}: is missing",)


def test_another_size_is_noticed(folder: Path) -> None:
    (folder / "map.html").write_bytes(b"<html></html>")
    assert result_faults(folder) == (f"{folder / 'map.html'}: has 13 bytes, 6 when it was written",)


def test_a_change_of_the_same_size_is_noticed_by_its_hash(folder: Path) -> None:
    (folder / "map.html").write_bytes(b"<HTML>")
    assert is_result(folder)
    assert not is_result(folder, verify=True)
    assert result_faults(folder, verify=True) == (f"{folder / 'map.html'}: has been changed since it was written",)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (None, "cannot be read"),
        ("{", "is not valid JSON"),
        ("[]", "has the format None"),
        ('{"format": 99}', "has the format 99; this version reads format 1"),
        ('{"format": 1, "name": "a"}', "does not have the name and the outputs"),
        ('{"format": 1, "outputs": {}}', "does not have the name and the outputs"),
        ('{"format": 1, "name": "a", "outputs": {"b": 3}}', "does not have the name and the outputs"),
        ("\xff", "is not valid JSON"),
    ],
)
def test_a_folder_without_a_valid_record_is_no_result(tmp_path: Path, text: str | None, sentence: str) -> None:
    if text is not None:
        (tmp_path / "run.json").write_bytes(text.encode("latin-1"))
    assert not is_result(tmp_path)
    with pytest.raises(InputError, match=sentence) as caught:
        read_record(tmp_path)
    assert str(tmp_path / "run.json") in str(caught.value)


@pytest.mark.parametrize("name", ["../outside", "/etc/hosts", "a/../../b"])
def test_a_record_that_points_outside_its_folder_is_refused(tmp_path: Path, name: str) -> None:
    record: dict[str, Any] = {"format": 1, "name": "a", "outputs": {name: {"sha256": "", "bytes": 0}}}
    (tmp_path / "run.json").write_text(json.dumps(record))
    assert not is_result(tmp_path)
