"""The sample estate in every GIS format, each read back by a parser that has nothing to do with its writer.

Same features, same ids, and each position within a millimetre of where it is in the plan: what `geodetic.inv` of PROJ
says of two places on the ellipsoid, or plain distance in the projected CRS, to which another build of PROJ transforms.
"""

import csv
import hashlib
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any, Final

import fastparquet
import fiona
import fiona.transform
import flatgeobuf
import numpy as np
import pyproj
import pytest
import shapefile
import shapely
from fastkml import KML, Document, Folder, Placemark
from fastkml.utils import find_all
from fastkml.validator import validate
from isoxml.util.isoxml_io import isoxml_from_path
from numpy.typing import NDArray
from wirerun import load_config, plan_config
from wirerun.records import Plan
from wirerun.settings.ground import FORMATS
from wirerun.write.gis import write_formats
from wirerun.write.gis.shapefile_names import SHORT

CONFIG: Final = Path(__file__).parents[2] / "configs" / "encosta_nova.toml"
LAYERS: Final = ("block", "exclusions", "rows", "posts", "spans", "sections", "zones", "left_out", "findings")
NEAR_M: Final = 0.001

FloatArray = NDArray[np.float64]


@pytest.fixture(scope="module")
def estate() -> Plan:
    return plan_config(load_config(CONFIG))


@pytest.fixture(scope="module")
def folder(estate: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("estate") / "gis"
    write_formats(estate, place, FORMATS)
    return place


def _ids(plan: Plan, layer: str) -> list[str]:
    if layer == "spans":
        return list(plan.spans["span_id"] + "/" + plan.spans["wire_id"])
    table = getattr(plan, "blocks" if layer == "block" else layer)
    keys = {"exclusions": "block_id", "left_out": "row_id"}
    return list(table[keys.get(layer, f"{layer.removesuffix('s')}_id")])


def _lonlat(plan: Plan, layer: str) -> FloatArray:
    return np.asarray(shapely.get_coordinates(getattr(plan, "blocks" if layer == "block" else layer).geometry))


def _projected(plan: Plan, layer: str) -> FloatArray:
    """Places as another build of PROJ transforms them."""
    lon, lat = _lonlat(plan, layer).T
    return np.column_stack(fiona.transform.transform("EPSG:4326", plan.output_crs, lon.tolist(), lat.tolist()))


def _assert_near_on_the_globe(found: Any, wanted: FloatArray) -> None:  # noqa: ANN401 - any pairs
    found = np.asarray(found, dtype=float)
    assert found.shape == wanted.shape
    off_m = pyproj.Geod(ellps="WGS84").inv(found[:, 0], found[:, 1], wanted[:, 0], wanted[:, 1])[2]
    assert np.abs(off_m).max() < NEAR_M


def _assert_near(found: Any, wanted: FloatArray) -> None:  # noqa: ANN401 - any pairs
    np.testing.assert_allclose(np.asarray(found, dtype=float), wanted, rtol=0, atol=NEAR_M)


def _placed(plan: Plan) -> int:
    """Findings whose place is a block, row, post or zone."""
    known = {*plan.blocks["block_id"], *plan.rows["row_id"], *plan.posts["post_id"], *plan.zones["zone_id"]}
    return int(plan.findings["place"].isin(list(known)).sum())


def test_geojson_by_json_and_shapely(estate: Plan, folder: Path) -> None:
    for layer in LAYERS:
        made = json.loads((folder / "geojson" / f"{layer}.geojson").read_text(encoding="utf-8"))
        assert "crs" not in made, "RFC 7946, 4: always WGS 84"
        features = made["features"]
        if layer == "findings":
            assert len(features) == _placed(estate) > 0
            continue
        assert [feature["id"] for feature in features] == _ids(estate, layer)
        shapes = [shapely.geometry.shape(feature["geometry"]) for feature in features]
        if layer in ("rows", "posts", "spans", "sections"):
            _assert_near_on_the_globe(shapely.get_coordinates(shapes), _lonlat(estate, layer))
        for part in shapely.get_parts(shapes) if layer in ("block", "exclusions", "zones") else []:
            assert part.exterior.is_ccw, "RFC 7946, 3.1.6: the right-hand rule"
            assert not any(hole.is_ccw for hole in part.interiors)


def test_geojson_posts_have_nine_decimals_and_no_digits_of_noise(folder: Path) -> None:
    text = (folder / "geojson" / "posts.geojson").read_text(encoding="utf-8")
    numbers = re.findall(r"-?\d+\.(\d+)", text.partition('"features"')[2])
    assert max(map(len, numbers)) == 9


def test_shapefiles_by_pyshp(estate: Plan, folder: Path) -> None:
    for layer in LAYERS:
        path = folder / "shapefile" / f"{layer}.shp"
        assert path.with_suffix(".cpg").read_text() == "UTF-8"
        assert pyproj.CRS(path.with_suffix(".prj").read_text()).to_epsg(min_confidence=20) == 25829
        with shapefile.Reader(path, encoding="utf-8") as made:
            names = [field[0] for field in made.fields if field[0] != "DeletionFlag"]
            assert len({*names}) == len(names)
            assert max(map(len, names)) <= 10
            if layer == "findings":
                assert len(made) == _placed(estate)
                continue
            records = [record.as_dict() for record in made.records()]
            first = "/".join if layer == "spans" else "".join
            keys = ("span_id", "wire_id") if layer == "spans" else (names[0],)
            assert [first(record[key] for key in keys) for record in records] == _ids(estate, layer)
            if layer in ("rows", "posts", "spans", "sections"):
                _assert_near(
                    [place[:2] for shape in made.shapes() for place in shape.points], _projected(estate, layer)
                )


def test_the_numbers_of_the_posts_come_through_a_dbf(estate: Plan, folder: Path) -> None:
    with shapefile.Reader(folder / "shapefile" / "posts.shp", encoding="utf-8") as made:
        records = [record.as_dict() for record in made.records()]
    for name, decimals in (("lon", 9), ("ground_m", 3), ("grade_change_pct", 2), ("clip_positions", 0)):
        back = np.array([record[SHORT.get(name, name)] for record in records], dtype=float)
        np.testing.assert_allclose(back, estate.posts[name].to_numpy(float), rtol=0, atol=0.5001 * 10.0**-decimals)
    sections = [record["section_id"] or None for record in records]
    assert (
        sections == estate.posts["section_id"].astype(object).where(estate.posts["section_id"].notna(), None).tolist()
    )


def test_flatgeobuf_by_its_own_python_reader(estate: Plan, folder: Path) -> None:
    for layer in ("rows", "posts", "sections"):
        with (folder / "flatgeobuf" / f"{layer}.fgb").open("rb") as stream:
            made = list(flatgeobuf.Reader(stream))
        key = f"{layer.removesuffix('s')}_id"
        # Features lie in the order of the file's spatial index.
        shapes = {feature["properties"][key]: shapely.geometry.shape(feature["geometry"]) for feature in made}
        assert len(made) == len(shapes)
        assert sorted(shapes) == sorted(_ids(estate, layer))
        found = shapely.get_coordinates([shapes[name] for name in _ids(estate, layer)])
        _assert_near(found, _projected(estate, layer))


def test_every_flatgeobuf_by_another_gdal(estate: Plan, folder: Path) -> None:
    for layer in LAYERS:
        with fiona.open(folder / "flatgeobuf" / f"{layer}.fgb") as made:
            assert made.crs.to_epsg() == 25829
            assert len(list(made)) == (_placed(estate) if layer == "findings" else len(_ids(estate, layer)))


def test_geoparquet_by_fastparquet(estate: Plan, folder: Path) -> None:
    for layer in LAYERS:
        # From memory: it would leave files open.
        made = fastparquet.ParquetFile(io.BytesIO((folder / "geoparquet" / f"{layer}.parquet").read_bytes()))
        said = json.loads(made.key_value_metadata["geo"])
        assert said["version"] == "1.1.0"
        assert said["columns"][said["primary_column"]]["crs"]["id"] == {"authority": "EPSG", "code": 25829}
        if layer in ("rows", "posts", "sections"):
            frame = made.to_pandas()
            assert frame[f"{layer.removesuffix('s')}_id"].tolist() == _ids(estate, layer)
            found = shapely.get_coordinates(shapely.from_wkb(frame["geometry"].to_numpy(object)))
            _assert_near(found, _projected(estate, layer))
        else:
            assert made.count() == (_placed(estate) if layer == "findings" else len(_ids(estate, layer)))


def test_kml_by_fastkml_with_its_schema(estate: Plan, folder: Path) -> None:
    assert validate(file_to_validate=folder / "plan.kml") is True
    document = KML.parse(folder / "plan.kml", validate=False).features[0]
    assert isinstance(document, Document)
    folders = {str(part.name): part for part in document.features if isinstance(part, Folder)}
    assert list(folders) == [layer for layer in LAYERS if layer != "spans"]
    styles = {f"#{style.id}" for style in document.styles}
    for layer, part in folders.items():
        marks = [mark for mark in part.features if isinstance(mark, Placemark)]
        assert {str(mark.style_url.url) for mark in marks if mark.style_url} <= styles
        if layer == "findings":
            assert len(marks) == _placed(estate)
            continue
        assert [mark.name for mark in marks] == _ids(estate, layer)
        if layer in ("rows", "posts", "sections"):
            drawn = [dict(mark.geometry.__geo_interface__) for mark in marks if mark.geometry is not None]
            places = [place[:2] for one in drawn for place in shapely.get_coordinates(shapely.geometry.shape(one))]
            _assert_near_on_the_globe(places, _lonlat(estate, layer))
    assert len(list(find_all(document, of_type=Placemark))) > len(estate.posts)


def test_gpx_by_gdal(estate: Plan, folder: Path) -> None:
    with fiona.open(folder / "plan.gpx", layer="waypoints") as made:
        posts = list(made)
    assert [post.properties["desc"] for post in posts] == _ids(estate, "posts")
    names = [post.properties["name"] for post in posts]
    assert len({*names}) == len(names)
    assert max(map(len, names)) <= 10
    assert names[:2] == ["A1-1", "A1-2"], "posts 1 and 2 of row 1 of the first block"
    _assert_near_on_the_globe([post.geometry["coordinates"][:2] for post in posts], _lonlat(estate, "posts"))
    heights = np.array([post.properties["ele"] for post in posts], dtype=float)
    np.testing.assert_allclose(heights, estate.posts["ground_m"], rtol=0, atol=0.00051)
    with fiona.open(folder / "plan.gpx", layer="tracks") as made:
        rows = list(made)
    assert [row.properties["name"] for row in rows] == _ids(estate, "rows")
    places = [place for row in rows for segment in row.geometry["coordinates"] for place in segment]
    _assert_near_on_the_globe(places, _lonlat(estate, "rows"))


def test_dxf_by_gdal(estate: Plan, folder: Path) -> None:
    with fiona.Env(DXF_INLINE_BLOCKS="FALSE"), fiona.open(folder / "plan.dxf", layer="entities") as made:
        entities = list(made)
    by_layer: dict[str, list[Any]] = {}
    for entity in entities:
        by_layer.setdefault(entity.properties["Layer"], []).append(entity)
    posts = {
        entity.properties["BlockAttributes"][0].removeprefix("ID "): (name, entity.geometry["coordinates"][:2])
        for name in ("POSTS-END", "POSTS-INTERMEDIATE", "POSTS-CHECK", "POSTS-TWO-WAY")
        for entity in by_layer[name]
    }
    assert sorted(posts) == sorted(_ids(estate, "posts"))
    _assert_near([posts[post][1] for post in _ids(estate, "posts")], _projected(estate, "posts"))
    ends = estate.posts.loc[estate.posts["kind"] == "end", "post_id"]
    assert sorted(post for post, (name, _) in posts.items() if name == "POSTS-END") == sorted(ends)
    two_way = estate.clips.loc[estate.clips["clip"] == "two-way", "post_id"].unique()
    assert sorted(post for post, (name, _) in posts.items() if name == "POSTS-TWO-WAY") == sorted(two_way)
    look = estate.posts.loc[(estate.posts["kind"] != "end") & (estate.posts["clip_need"] == "look-on-site"), "post_id"]
    assert sorted(post for post, (name, _) in posts.items() if name == "POSTS-CHECK") == sorted(look)
    assert sum(len(of) for name, of in by_layer.items() if name.startswith("POSTS-")) == len(posts), "each on one layer"
    for layer in ("rows", "sections"):
        places = [place[:2] for line in by_layer[layer.upper()] for place in line.geometry["coordinates"]]
        _assert_near(places, _projected(estate, layer))
    labels = {label.properties["Text"] for label in by_layer["LABELS"]}
    assert labels == {*_ids(estate, "rows"), *_ids(estate, "block"), *_ids(estate, "zones")}
    (note,) = by_layer["NOTES"]
    assert note.properties["Text"] == "Coordinates in metres: ETRS89 / UTM zone 29N (EPSG:25829)"


def test_staking_by_csv(estate: Plan, folder: Path) -> None:
    raw = (folder / "staking.csv").read_bytes()
    assert raw.startswith(b"id,E,N,Z,code\r\n")
    lines = list(csv.DictReader(raw.decode("ascii").splitlines()))
    assert [line["id"] for line in lines] == _ids(estate, "posts")
    _assert_near([(line["E"], line["N"]) for line in lines], _projected(estate, "posts"))
    heights = np.array([line["Z"] for line in lines], dtype=float)
    np.testing.assert_allclose(heights, estate.posts["ground_m"], rtol=0, atol=0.00051)
    assert {line["code"] for line in lines} == {"end", "two-way", "look", "post"}
    assert [line["code"] == "end" for line in lines] == (estate.posts["kind"] == "end").tolist()


def test_task_data_by_isoxml(estate: Plan, folder: Path) -> None:
    made, _ = isoxml_from_path(folder / "TASKDATA")
    assert [field.designator for field in made.partfields] == _ids(estate, "block")
    patterns = [pattern for field in made.partfields for pattern in field.guidance_groups[0].guidance_patterns]
    assert [pattern.designator for pattern in patterns] == _ids(estate, "rows")
    assert {pattern.type.name for pattern in patterns} == {"AB"}, "straight rows"
    ends = [(float(point.east), float(point.north)) for p in patterns for point in p.line_strings[0].points]
    _assert_near_on_the_globe(ends, _lonlat(estate, "rows"))
    for field, block, hectares in zip(made.partfields, estate.blocks.geometry, estate.blocks["area_ha"], strict=True):
        (boundary,) = (polygon for polygon in field.polygons if polygon.type.name == "PartfieldBoundary")
        ring = [(float(point.east), float(point.north)) for point in boundary.line_strings[0].points]
        _assert_near_on_the_globe(ring, shapely.get_coordinates(block))
        assert field.area == pytest.approx(1e4 * hectares, abs=0.51)
    holes = [polygon for field in made.partfields for polygon in field.polygons if polygon.type.name == "Obstacle"]
    assert len(holes) == len(shapely.get_parts(estate.exclusions.geometry.to_numpy()))


def _hashes(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_another_process_without_pyarrow_gives_the_same_bytes(folder: Path, tmp_path: Path) -> None:
    """Where pyarrow is installed, pandas keeps text in it: nothing written may show that."""
    words = (
        "import sys\n"
        "class NoArrow:\n"
        "    def find_spec(name, *_):\n"
        "        if name == 'pyarrow': raise ModuleNotFoundError(name)\n"
        "sys.meta_path.insert(0, NoArrow)\n"
        "import pandas; assert pandas.Series(['a'], dtype='str').dtype.storage == 'python'\n"
        "from pathlib import Path; from wirerun import load_config, plan_config\n"
        "from wirerun.write.gis import write_formats\n"
        "write_formats(plan_config(load_config(Path(sys.argv[1]))), Path(sys.argv[2]), sys.argv[3:])"
    )
    rest = [name for name in FORMATS if name != "geoparquet"]
    there = os.environ | {"PYTHONHASHSEED": "77", "TZ": "Asia/Tokyo"}
    subprocess.run([sys.executable, "-c", words, CONFIG, tmp_path, *rest], check=True, env=there)  # noqa: S603 - our own
    wanted = {name: value for name, value in _hashes(folder).items() if not name.startswith("geoparquet/")}
    assert _hashes(tmp_path) == wanted


def test_geoparquet_has_the_same_bytes_again(estate: Plan, folder: Path, tmp_path: Path) -> None:
    write_formats(estate, tmp_path, ["geoparquet"])
    assert _hashes(tmp_path / "geoparquet") == _hashes(folder / "geoparquet")
