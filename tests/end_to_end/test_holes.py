"""Plans over ground with holes: what is bridged, and what of a row that cannot be planned is still there: nothing."""

import csv
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from itertools import compress
from pathlib import Path
from typing import Any

import geopandas as gpd
import numpy as np
import pyogrio
import pypdfium2 as pdfium
import pytest
from scipy.special import ndtr
from wirerun import Plan, plan_config
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY
from wirerun.records import left_out_words
from wirerun.tables import TABLES
from wirerun.write.html_map.backdrop import Backdrop
from wirerun.write.html_map.data import map_data
from wirerun.write.result import write_result

Scenes = Callable[..., Any]
FRAME = Frame(-7.6, 41.2, 300.0)
BOX = [(-45.0, -12.0), (45.0, -12.0), (45.0, 12.0), (-45.0, 12.0)]
NORTHINGS = (6.0, 3.6, 1.2, -1.2, -3.6, -6.0)  # R001 to R006: rows run east, and count from the left
ELEVATION = {"accuracy_m": 0.03, "smoothing_m": 1.0, "least_cover_pct": 50.0}


def hill(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Ground that undulates, so that there are crests, hollows and two-way clips."""
    return 300.0 + 0.1 * x - 0.15 * y + 0.5 * np.sin(x / 3.0 + y / 9.0) + 0.3 * np.cos(y / 4.0)


def holed(*holes: tuple[float, float, float]) -> Callable[[np.ndarray, np.ndarray], np.ndarray]:
    """The hill without heights in rectangles round places, so wide along the rows and 1.4 m across."""

    def surface(x: np.ndarray, y: np.ndarray) -> np.ndarray:
        heights = hill(x, y)
        for east, north, width in holes:
            heights[(np.abs(x - east) < width / 2.0) & (np.abs(y - north) < 0.7)] = -9999.0
        return heights

    return surface


def write_rows(folder: Path, northings: tuple[float, ...], name: str = "rows.geojson") -> None:
    features = []
    for northing in northings:
        lonlat = FRAME.to_lonlat(PlaneXY(np.array([-44.0, 44.0]), np.full(2, northing))).stacked()
        line = {"type": "LineString", "coordinates": lonlat.tolist()}
        features.append({"type": "Feature", "properties": {}, "geometry": line})
    (folder / name).write_text(json.dumps({"type": "FeatureCollection", "features": features}))


def planned(
    make_scene: Scenes,
    *holes: tuple[float, float, float],
    rows: tuple[float, ...] = NORTHINGS,
    accuracy_m: float = 0.03,
) -> Plan:
    scene = make_scene(holed(*holes), BOX)
    write_rows(scene.folder, rows)
    given = {"layout": "given", "lines": "rows.geojson", "bearing_deg": None}
    return plan_config(scene.config(rows=given, elevation={**ELEVATION, "accuracy_m": accuracy_m}))


def codes(plan: Plan) -> set[str]:
    return set(plan.findings["code"])


def sheets(path: Path) -> list[str]:
    """Text of the first sheet, whatever it takes, and of each page behind it that is not empty."""
    with closing(pdfium.PdfDocument(path)) as document:
        texts = [page.get_textpage().get_text_range() for page in document]
    # The plan's mark is that of its inputs, and these differ; so do page numbers, by the room of the first sheet.
    pages = [re.sub(r"plan [0-9a-f]{8}|page \d+ of \d+", "", text) for text in texts]
    pages = [re.sub(r" \d+(?=\r?\n)", "", page) if "Zones in working order" in page else page for page in pages]
    first = [place == 0 or "First sheet, continued" in page for place, page in enumerate(pages)]
    others = [page for page, is_first in zip(pages, first, strict=True) if not is_first]
    return ["\n".join(compress(pages, first)), *(page for page in others if not page.rstrip().endswith("Notes"))]


def lines_of(path: Path) -> list[list[str]]:
    with path.open(encoding="utf-8-sig", newline="") as stream:
        return list(csv.reader(stream))


# East of the rows' middle: rows are 76 m long and have 13 spans, so a post stands 2.9 m off it on both sides.
AT_A_POST, BETWEEN = 2.92, 0.0


@pytest.mark.parametrize(
    ("east", "width", "bridged_posts"), [(AT_A_POST, 2.0, 1), (AT_A_POST, 5.0, 1), (BETWEEN, 2.0, 0), (BETWEEN, 5.0, 2)]
)
def test_a_narrow_hole_is_bridged_and_marked(make_scene: Scenes, east: float, width: float, bridged_posts: int) -> None:
    whole, plan = planned(make_scene), planned(make_scene, (east, -1.2, width))
    assert len(plan.rows) == 6
    assert plan.left_out.empty
    assert {"hole-bridged", "cover-gap"} <= codes(plan)
    assert not {"row-left-out", "no-rate", "no-fixing"} & codes(plan)
    assert plan.wires["run_out_m"].notna().all()
    assert plan.spans["clearance_m"].notna().all()
    assert plan.wires.loc[plan.wires["wire_id"] == "lower", "drops_by_itself"].notna().all()
    over = plan.posts[plan.posts["bridged_m"].notna()]
    assert len(over) == bridged_posts
    assert set(over["row_id"]) <= {"B01-R004"}
    np.testing.assert_allclose(over["bridged_m"], width, atol=0.03)  # a post whose average touches it counts too
    by_row = plan.rows.set_index("row_id")["bridged_m"]
    assert by_row["B01-R004"] == pytest.approx(width, abs=0.03)
    assert (by_row.drop("B01-R004") == 0.0).all()
    told = plan.findings.loc[plan.findings["code"] == "hole-bridged", "message"]
    assert len(told) == 1
    assert told.iloc[0].startswith("1 hole in the ground of 1 row")
    assert f"up to {width:.1f} m wide" in told.iloc[0]
    assert "B01-R004" in told.iloc[0]
    # The ground is missed by no more than is said, and the wire's length hardly changes.
    there = whole.posts.set_index("post_id")["ground_m"]
    miss = over["ground_m"].to_numpy() - there[over["post_id"]].to_numpy()
    assert (np.abs(miss) < 3.0 * over["bridged_error_m"]).all()
    assert (over["bridged_error_m"] > 0.0).all()
    np.testing.assert_allclose(plan.wires["run_out_m"], whole.wires["run_out_m"], rtol=5e-3)
    # Rows away from the hole are what they were, but for the frame: its scale goes by the mean of the known heights.
    far = plan.clips["row_id"] != "B01-R004"
    np.testing.assert_allclose(plan.clips.loc[far, "load_min_n"], whole.clips.loc[far, "load_min_n"], atol=1e-3)


def test_a_bridged_post_is_less_certain(make_scene: Scenes) -> None:
    """On a crest the need of a two-way clip is out of the question, but over a hole it is not; nor beside it.

    By hand, strung: 300 N over two spans of 76/13 m make 102.6 N for each metre that the post is off.
    """
    whole = planned(make_scene, accuracy_m=0.005)
    plan = planned(make_scene, (AT_A_POST, -1.2, 5.0), accuracy_m=0.005)
    post = plan.posts.loc[plan.posts["bridged_m"].notna(), "post_id"].iloc[0]
    error = plan.posts.set_index("post_id")["bridged_error_m"][post]
    chance, sure = (
        made.clips[made.clips["wire_id"] == "lower"].set_index("post_id")["need_probability"] for made in (plan, whole)
    )
    beside = post.replace("P008", "P009")
    assert sure[post] < 1e-12
    assert sure[beside] < 1e-12
    load = plan.clips[plan.clips["wire_id"] == "lower"].set_index("post_id")["load_strung_n"][post]
    assert load > 0.0
    # The worst of the wire's states is at least as bad as this one.
    strung = float(ndtr((-plan.config.undulation.hold_down_n - load) / (300.0 * 2.0 * 13.0 / 76.0 * error)))
    # By the bridge alone; the neighbouring rows tell that the crest goes on, so that it is less in doubt than that.
    assert 0.0 <= chance[post] <= 1.1 * strung < 0.1
    assert chance[beside] < 0.1
    far = plan.clips["row_id"] != "B01-R004"
    np.testing.assert_allclose(
        plan.clips.loc[far, "need_probability"], whole.clips.loc[far, "need_probability"], atol=1e-4
    )


@pytest.mark.parametrize(
    ("hole", "reason"),
    [
        ((AT_A_POST, -6.0, 8.0), "hole of 8.0"),
        ((BETWEEN, -6.0, 8.0), "hole of 8.0"),
        ((-38.0, -6.0, 2.0), "row's start"),
        ((38.0, -6.0, 2.0), "row's far end"),
    ],
    ids=["at a post", "between posts", "at the start", "at the far end"],
)
def test_a_row_left_out_is_left_out_of_everything_alike(
    make_scene: Scenes, tmp_path: Path, hole: tuple[float, float, float], reason: str
) -> None:
    """File by file as the plan of the same block without that row, but for the words that say so."""
    plan, absent = planned(make_scene, hole), planned(make_scene, hole, rows=NORTHINGS[:-1])
    assert plan.left_out["row_id"].tolist() == ["B01-R006"]
    assert reason in plan.left_out["reason"].iloc[0]
    for made, name in ((plan, "with"), (absent, "absent")):
        write_result(made, tmp_path / name, overwrite=False, only=("schedule", "gis", "cards"))
    words = left_out_words(plan.left_out)
    assert words == "1 row, 76.0 m"
    for name in TABLES:
        (head, *lines), expected = (
            lines_of(tmp_path / side / "schedule" / f"{name}.csv") for side in ("with", "absent")
        )
        if name == "left_out":
            assert [line[0] for line in lines] == ["B01-R006"]
            continue
        if name == "row_ids":  # its number is its own, though nothing is planned for it
            assert [line[0] for line in lines if line not in expected] == ["B01-R006"]
            lines = [line for line in lines if line in expected]
        if name == "findings":
            lines = [line for line in lines if line[1] != "row-left-out"]
        if "not_included" in head:
            column = head.index("not_included")
            assert {line[column] for line in lines} == {words}
            assert {line[column] for line in expected[1:]} == {""}
            lines = [[*line[:column], "", *line[column + 1 :]] for line in lines]
        assert [head, *lines] == expected, name
    first, *others = sheets(tmp_path / "with" / "cards" / "field_cards.pdf")
    assert "in no number here: no ground heights" in first
    assert "B01-R006" in first
    expected_first, *expected_others = sheets(tmp_path / "absent" / "cards" / "field_cards.pdf")
    assert "no ground heights" not in expected_first
    assert others == expected_others
    for layer, shape in pyogrio.list_layers(tmp_path / "with" / "gis" / "plan.gpkg"):
        if shape is None:
            continue  # a table of the schedule, as above
        with_it, without = (
            gpd.read_file(tmp_path / side / "gis" / "plan.gpkg", layer=layer) for side in ("with", "absent")
        )
        if layer == "left_out":
            assert (len(with_it), len(without)) == (1, 0)
        elif layer != "findings":
            assert with_it.equals(without), layer


def test_the_true_cause_is_told_and_the_catalogue_is_not_blamed(make_scene: Scenes) -> None:
    plan = planned(make_scene, (AT_A_POST, -1.2, 8.0), (-20.0, 3.6, 6.0))
    assert plan.left_out["row_id"].tolist() == ["B01-R002", "B01-R004"]
    assert not {"no-rate", "no-fixing", "look-on-site-missing"} & codes(plan)
    told = plan.findings[plan.findings["code"] == "row-left-out"]
    assert told["level"].tolist() == ["warning"]
    for words in ("2 rows, 152.0 m", "B01-R002 (hole of 6.0", "B01-R004 (hole of 8.0", "left_out.csv"):
        assert words in told["message"].iloc[0]
    assert (plan.clips["pieces"] > 0).all()
    assert plan.clips["fixing"].notna().all()
    # Everything that is counted is counted for the same rows.
    rows = set(plan.rows["row_id"])
    for name in ("posts", "spans", "clips", "wires", "lifts", "coils", "tension_check"):
        assert set(getattr(plan, name)["row_id"]) == rows, name
    assert plan.zones["rows"].sum() == len(rows)
    assert plan.zones["row_length_m"].sum() == pytest.approx(plan.rows["length_m"].sum())


def test_the_map_says_what_is_not_included(make_scene: Scenes) -> None:
    plan = planned(make_scene, (AT_A_POST, -1.2, 8.0))
    data = map_data(plan, Backdrop((), (), (), 0.0))
    assert [one["id"] for one in data["left_out"]] == ["B01-R004"]
    assert len(data["left_out"][0]["path"]) == 4
    for figures in (data["totals"], data["blocks"][0]):
        assert (figures["rows_left_out"], figures["left_out_m"]) == (1, 76.0)


def test_a_block_whose_rows_all_fail_ends_without_rows(make_scene: Scenes) -> None:
    plan = planned(make_scene, *((AT_A_POST, north, 8.0) for north in NORTHINGS))
    assert len(plan.rows) == len(plan.posts) == len(plan.materials) == 0
    assert len(plan.left_out) == 6
    assert "row-left-out" in codes(plan)


def test_terminal_and_record_name_what_is_missing(make_scene: Scenes) -> None:
    scene = make_scene(holed((AT_A_POST, -1.2, 8.0)), BOX)
    write_rows(scene.folder, NORTHINGS)
    (scene.folder / "plan.toml").write_text(
        'name = "scene"\n[block]\nboundary = "block.geojson"\nid_field = "block"\n'
        '[elevation]\nraster = "ground.tif"\nleast_cover_pct = 50.0\n'
        '[rows]\nlayout = "given"\nlines = "rows.geojson"\nspacing_m = 2.4\n'
    )
    words = (sys.executable, "-m", "wirerun", "plan", "plan.toml", "--out", "out", "--only", "schedule")
    wide = os.environ | {"COLUMNS": "160"}
    done = subprocess.run(words, cwd=scene.folder, env=wide, capture_output=True, text=True, check=True)  # noqa: S603 - our own words
    lines = [line.rstrip() for line in done.stderr.splitlines() if not line.startswith(("note:", "warning:"))]
    assert any("76 m, NOT INCLUDED anywhere: B01-R004" in line for line in lines)
    for total in (
        "posts, 10 of them end posts",
        "m of wire 'lower'",
        "coils of 'wire 2.5 mm",
        "labour hours, in",
        "that is priced",
    ):
        (line,) = (line for line in lines if total in line)
        assert line.endswith("; 1 row not included")
    counts = json.loads((scene.folder / "out" / "run.json").read_text())["counts"]
    assert (counts["rows"], counts["rows_left_out"], counts["left_out_m"]) == (5, 1, 76.0)


def test_surveyed_posts_stand_over_any_hole(make_scene: Scenes) -> None:
    """All posts of R003 are surveyed with their heights; those of R004 are not, and its hole takes it out."""
    # The last one is narrow enough to be bridged, but the post in it has its own height.
    holes = (AT_A_POST, 1.2, 8.0), (AT_A_POST, -1.2, 8.0), (-26.31, 1.2, 3.0)
    scene = make_scene(holed(*holes), BOX)
    write_rows(scene.folder, NORTHINGS)
    lines = ["lon,lat,height"]
    for northing in NORTHINGS:
        east = np.linspace(-38.0, 38.0, 14)
        lon, lat = FRAME.to_lonlat(PlaneXY(east, np.full(14, northing))).stacked().T
        height = hill(east, np.full(14, northing))
        said = ["" if northing == -1.2 else f"{metres:.3f}" for metres in height]
        lines += [f"{x:.9f},{y:.9f},{metres}" for x, y, metres in zip(lon, lat, said, strict=True)]
    (scene.folder / "posts.csv").write_text("\n".join(lines) + "\n")
    plan = plan_config(
        scene.config(
            rows={"layout": "given", "lines": "rows.geojson", "bearing_deg": None},
            elevation=ELEVATION,
            posts={"placing": "given", "points": "posts.csv", "points_crs": "EPSG:4326"},
        )
    )
    assert plan.left_out["row_id"].tolist() == ["B01-R004"]
    mine = plan.posts[plan.posts["row_id"] == "B01-R003"]
    np.testing.assert_allclose(mine["ground_m"], hill(np.linspace(-38.0, 38.0, 14), np.full(14, 1.2)), atol=0.001)
    assert mine["bridged_m"].isna().all()
    assert plan.wires["drops_by_itself"].notna().any()
    assert plan.spans["clearance_m"].notna().all()
    assert any("B01-R003" in said for said in plan.findings.loc[plan.findings["code"] == "hole-bridged", "message"])
