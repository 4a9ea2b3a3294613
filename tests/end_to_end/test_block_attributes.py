"""Settings of blocks that stand in attributes of the boundary file: the same plan as from the config."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import geopandas as gpd
import pytest
import rasterio
from pandas.testing import assert_frame_equal
from wirerun import load_config, plan, plan_config
from wirerun.errors import Exit, InputError

if TYPE_CHECKING:
    from tests.conftest import Estate

LEFT = [(-70.0, -14.0), (-8.0, -17.0), (-5.0, 15.0), (-66.0, 18.0)]
RIGHT = [(6.0, -15.0), (58.0, -12.0), (55.0, 21.0), (8.0, 17.0)]
FROM_FILE = """
[block.attributes.rows]
bearing_deg = "bearing"
spacing_m = "apart"
[block.attributes.posts]
max_span_m = "span"
[block.attributes.wires.low]
height_m = "low_m"
[[wires]]
id = "low"
kind = "foliage"
height_m = 1.2
[[wires]]
id = "high"
kind = "foliage"
height_m = 1.45
"""
IN_CONFIG = """
[[wires]]
id = "low"
kind = "foliage"
height_m = 1.2
[[wires]]
id = "high"
kind = "foliage"
height_m = 1.45
[blocks.B02.rows]
bearing_deg = 71.5
spacing_m = 3
[blocks.B02.posts]
max_span_m = 4.5
[blocks.B02.wires.low]
height_m = 1.1
"""
#: B01 says nothing, in the ways that formats have for it.
SAID: dict[str, dict[str, Any]] = {
    "B01": {"bearing": None, "apart": None, "span": None, "low_m": ""},
    "B02": {"bearing": 71.5, "apart": 3.0, "span": 4.5, "low_m": 1.1},
}
TABLES = ("rows", "posts", "spans", "clips", "wires", "coils", "materials", "zones", "programme", "costs")


@pytest.fixture
def both(make_estate: Callable[..., "Estate"]) -> "Estate":
    return make_estate(B01=LEFT, B02=RIGHT)


def say(estate: "Estate", said: dict[str, dict[str, Any]]) -> None:
    """Put attributes into the boundary file."""
    path = estate.folder / "block.geojson"
    data = json.loads(path.read_text())
    for feature in data["features"]:
        feature["properties"] = {"block": feature["properties"]["block"], **said[feature["properties"]["block"]]}
    path.write_text(json.dumps(data))


def test_attributes_count_as_settings_of_the_block(both: "Estate") -> None:
    assert both.command("check", more=IN_CONFIG).exit_code == 0
    by_config = plan_config(load_config(both.folder / "estate.toml"))
    say(both, SAID)
    done = both.command("plan", "--only", "schedule", more=FROM_FILE)
    assert done.exit_code == 0, done.stderr
    assert both.record["config"]["blocks"]["B02"]["rows"] == {"bearing_deg": 71.5, "spacing_m": 3}
    config = load_config(both.folder / "estate.toml")
    assert set(config.blocks) == {"B02"}
    by_file = plan_config(config)
    for name in TABLES:
        assert_frame_equal(getattr(by_file, name), getattr(by_config, name))
    assert by_file.rows.groupby("block_id")["bearing_deg"].first().to_dict() == pytest.approx({"B01": 90, "B02": 71.5})


def test_objects_may_say_it_too(both: "Estate") -> None:
    say(both, SAID | {"B01": dict.fromkeys(SAID["B01"])})
    both.command("check", more=FROM_FILE)
    config = load_config(both.folder / "estate.toml")
    blocks = gpd.read_file(both.folder / "block.geojson")
    with rasterio.open(config.path(str(config.elevation.raster))) as heights:
        made = plan(blocks, heights, config.model_copy(update={"blocks": {}}))
    assert_frame_equal(made.rows, plan_config(config).rows)


def test_the_config_itself_counts_first(both: "Estate") -> None:
    say(both, SAID)
    own = "[blocks.B02.rows]\nbearing_deg = 20\n[blocks.B02.wires.high]\nheight_m = 1.5\n"
    both.command("check", more=FROM_FILE + own)
    config = load_config(both.folder / "estate.toml").for_block("B02")
    assert (config.rows.bearing_deg, config.rows.spacing_m) == (20.0, 3.0)
    assert [wire.height_m for wire in config.wires] == [1.1, 1.5]


def test_a_change_in_the_file_plans_that_block_anew(both: "Estate") -> None:
    say(both, SAID)
    (both.folder / "estate.toml").write_text("")
    words = ("--out", str(both.folder / "all"), "--changed")
    assert both.command("estate", *words, more=FROM_FILE).exit_code == 0
    say(both, SAID | {"B02": SAID["B02"] | {"apart": 2.5}})
    records = {name: (both.folder / "all" / "blocks" / name / "run.json") for name in SAID}
    before = {name: record.stat().st_mtime_ns for name, record in records.items()}
    assert both.command("estate", *words, more=FROM_FILE).exit_code == 0
    assert {name for name, record in records.items() if record.stat().st_mtime_ns != before[name]} == {"B02"}


@pytest.mark.parametrize(
    ("said", "more", "sentences"),
    [
        (
            {"bearing": "east", "apart": 0.1, "span": None, "low_m": 9.0},
            "",
            [
                'block.geojson, feature 2 (B02): rows.bearing_deg (attribute "bearing"): "east" will not do; a number',
                'block.geojson, feature 2 (B02): rows.spacing_m (attribute "apart"): 0.1 is below the least value 0.5',
                'feature 2 (B02): wires.low.height_m (attribute "low_m"): 9 is above the greatest value 5',
                'wires.low.height_m (attribute "low_m"): 9 is above the top of the post, posts.height_out_m = 1.9',
            ],
        ),
        (
            {"bearing": 71.5, "apart": 3.0, "span": 4.5, "low_m": 1.1},
            '[block.attributes.standing]\nposts = "stands"\n',
            [
                'no feature has the attribute "stands" (block.attributes.standing.posts);',
            ],
        ),
        (
            {"bearing": 71.5, "apart": 3.0, "span": 4.5, "low_m": 1.1},
            '[block.attributes.wires.lower]\nheight_m = "low_m"\n',
            ["estate.toml, block.attributes.wires.lower.height_m: there is no such wire in the config, only low, high"],
        ),
        (
            {"bearing": 71.5, "apart": 3.0, "span": 4.5, "low_m": 1.1},
            '[block.attributes.wires.high]\nheight = "low_m"\n',
            ["estate.toml, block.attributes.wires.high.height: unknown setting; did you mean height_m?"],
        ),
    ],
)
def test_what_will_not_do_is_told_with_feature_and_attribute(
    both: "Estate", said: dict[str, Any], more: str, sentences: list[str]
) -> None:
    say(both, {"B01": dict.fromkeys(said), "B02": said})
    done = both.command("check", more=FROM_FILE + more)
    assert done.exit_code == Exit.BAD_INPUT
    with pytest.raises(InputError) as caught:
        load_config(both.folder / "estate.toml")
    found = str(caught.value).replace(f"{both.folder}/", "").splitlines()
    assert len(found) == len(sentences)
    for line, sentence in zip(found, sentences, strict=True):
        assert sentence in line


def test_a_file_that_cannot_be_read_is_told_once(both: "Estate", tmp_path: Path) -> None:
    (both.folder / "block.geojson").write_text("{")
    done = both.command("check", more=FROM_FILE)
    assert done.exit_code == Exit.BAD_INPUT
    assert done.stderr.count("not valid JSON") == 1
    assert not list(tmp_path.glob("*.gpkg"))
