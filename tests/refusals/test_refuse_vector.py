"""Every way a boundary or exclusion file can be wrong, and the sentence for it."""

import json
import re
import shutil
import sqlite3
from pathlib import Path
from typing import TYPE_CHECKING, Any

import fiona
import pytest
from wirerun.errors import Exit
from wirerun.read import blocks

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

SQUARE = [(-7.6, 41.2), (-7.599, 41.2), (-7.599, 41.201), (-7.6, 41.201), (-7.6, 41.2)]
WGS84 = "EPSG:4326"


def ring(*corners: tuple[float, float]) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": [[*corners, corners[0]]]}


def write(path: Path, driver: str, *, crs: str | None = WGS84, layer: str | None = None, count: int = 1) -> None:
    schema = {"geometry": "Polygon", "properties": {"plot": "str"}}
    with fiona.open(path, "w", driver=driver, crs=crs, layer=layer, schema=schema) as file:
        for number in range(count):
            moved = [(lon + 0.01 * number, lat) for lon, lat in SQUARE]
            geometry = {"type": "Polygon", "coordinates": [moved]}
            file.write({"type": "Feature", "geometry": geometry, "properties": {"plot": f"n{number}"}})


def only(estate: "Estate") -> str:
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    (sentence,) = sentences
    return sentence


@pytest.mark.parametrize(
    ("geometry", "sentence"),
    [
        (None, "feature 1: it has no geometry"),
        ({"type": "Polygon", "coordinates": []}, "feature 1: its geometry is empty"),
        (
            {"type": "Point", "coordinates": SQUARE[0]},
            "feature 1: it is a Point, where a Polygon or MultiPolygon is wanted",
        ),
        (
            {"type": "LineString", "coordinates": SQUARE},
            "feature 1: it is a LineString, where a Polygon or MultiPolygon is wanted",
        ),
        (
            {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [SQUARE]}]},
            "feature 1: it is a GeometryCollection, where a Polygon or MultiPolygon is wanted",
        ),
        ({"type": "Polygon", "coordinates": [SQUARE[:2]]}, "feature 1: a ring has fewer than three corners"),
        (
            ring((-7.6, 41.2), (-7.598, 41.202), (-7.598, 41.2), (-7.6, 41.202)),
            "feature 1: the edge crosses itself at longitude -7.599000, latitude 41.201000",
        ),
        (
            {"type": "Polygon", "coordinates": [SQUARE, [(-7.5, 41.2), (-7.49, 41.2), (-7.49, 41.21), (-7.5, 41.2)]]},
            "feature 1: a hole lies outside at longitude -7.500000, latitude 41.200000",
        ),
        (ring(*SQUARE[:3], (float("nan"), 41.2)), "feature 1: a coordinate is not a finite number"),
        (ring(*SQUARE[:3], (float("inf"), 41.2)), "feature 1: a coordinate is not a finite number"),
        (
            ring((617400.0, 4562000.0), (617460.0, 4562000.0), (617460.0, 4562040.0)),
            (
                "feature 1: 617400, 4562000 is no longitude and latitude (limits 180 and 90 degrees): they look like "
                "projected metres or feet, while the file says WGS 84 degrees; give it its own CRS"
            ),
        ),
        (
            ring((-41.5, 173.8), (-41.5, 173.801), (-41.501, 173.801)),
            (
                "feature 1: -41.5, 173.8 is no longitude and latitude (limits 180 and 90 degrees): longitude and "
                "latitude are swapped; GeoJSON and this tool put longitude first"
            ),
        ),
        (
            ring((-7.6, 41.2), (-7.5999, 41.2), (-7.5999, 41.20005)),
            "feature 1: its area is 23.3 m2, below the least of 100 m2",
        ),
        (
            ring((-7.6, 41.2), (-7.5, 41.2), (-7.5, 41.3), (-7.6, 41.3)),
            "feature 1: its area is 9309 ha, above the most of 1000 ha",
        ),
        (
            ring((-179.9999, 41.2), (179.9999, 41.2), (179.9999, 41.201), (-179.9999, 41.201)),
            "feature 1: it crosses the 180th meridian, which is not handled",
        ),
    ],
)
def test_shape_that_will_not_do(estate: "Estate", geometry: Any, sentence: str) -> None:  # noqa: ANN401
    estate.boundary(geometry)
    assert only(estate) == f"block.geojson, {sentence}"


def test_same_checks_for_exclusions(estate: "Estate") -> None:
    bow = ring((-7.6, 41.2), (-7.598, 41.202), (-7.598, 41.2), (-7.6, 41.202))
    estate.boundary(None, bow, name="out.geojson")
    estate.settings["block"]["exclusions"] = "out.geojson"
    sentences, _ = estate.refusal()
    assert sentences == [
        "out.geojson, feature 1: it has no geometry",
        "out.geojson, feature 2: the edge crosses itself at longitude -7.599000, latitude 41.201000",
    ]


def test_block_wholly_within_exclusions(estate: "Estate") -> None:
    estate.boundary(ring((-7.61, 41.19), (-7.58, 41.19), (-7.58, 41.21), (-7.61, 41.21)), name="out.geojson")
    estate.settings["block"]["exclusions"] = "out.geojson"
    assert only(estate) == "block.geojson, block B01: nothing is left of it outside the exclusions in out.geojson"


def test_more_exclusions_than_are_cut_out_of_a_block(estate: "Estate", monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blocks, "_MOST_EXCLUSIONS", 2)
    write(estate.folder / "out.geojson", "GeoJSON")
    drawn = json.loads((estate.folder / "out.geojson").read_text())
    drawn["features"] *= 3
    (estate.folder / "out.geojson").write_text(json.dumps(drawn))
    estate.settings["block"]["exclusions"] = "out.geojson"
    assert only(estate) == (
        "block.geojson, block B01: 3 exclusions in out.geojson touch it; at most 2 are cut out of a block: join those "
        "that lie closer together than rows do"
    )


def test_blocks_that_overlap(estate: "Estate") -> None:
    text = (estate.folder / "block.geojson").read_text()
    feature = json.loads(text)["features"][0]
    estate.boundary(feature["geometry"], feature["geometry"])
    estate.settings["block"]["id_field"] = "plot"
    sentences, _ = estate.refusal()
    found = re.fullmatch(
        r"block\.geojson, feature 1 \(n1\): it overlaps feature 2 \(n2\) by (\d+) m2 "
        r"\(at most 1 m2 is let pass\); rows would be laid there twice",
        sentences[0],
    )
    assert found
    twin = sentences[0].replace("feature 1 (n1)", "feature 0").replace("feature 2 (n2)", "feature 1 (n1)")
    assert sentences[1:] == [twin.replace("feature 0", "feature 2 (n2)")]
    # By the shoelace formula in UTM metres, over the areal scale there.
    assert float(found[1]) == pytest.approx(2227.5 / 0.99954, rel=3e-4)


def test_many_blocks_in_one_place_are_told_once_each(estate: "Estate") -> None:
    geometry = json.loads((estate.folder / "block.geojson").read_text())["features"][0]["geometry"]
    estate.boundary(*[geometry] * 30)
    sentences, _ = estate.refusal()
    assert len(sentences) == 21
    assert "it overlaps feature 2 by" in sentences[0]
    assert all("it overlaps feature 1 by" in sentence for sentence in sentences[1:-1])
    assert sentences[-1] == "block.geojson: and 10 more like these"


def test_attribute_that_is_not_there(estate: "Estate") -> None:
    estate.settings["block"]["id_field"] = "plott"
    assert only(estate) == (
        'block.geojson: no feature has the attribute "plott" (block.id_field); '
        "the attributes are plot; did you mean plot?"
    )


def test_two_blocks_with_one_id(estate: "Estate") -> None:
    estate.named("same ", "same")
    assert only(estate) == 'block.geojson, feature 2: it has the id "same", as feature 1 has; each block needs its own'


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "the file is empty (0 bytes)"),
        ('{"type": "FeatureCollection", "features": [', "not valid JSON: Expecting value at line 1, column 44"),
        ('{"type": "Topology", "objects": {}, "arcs": []}', "this is JSON but no GeoJSON"),
        ('{"type": "FeatureCollection", "features": []}', "the file has no features"),
        ("WKT,n\nPOINT (1 2),3\n", "the file is no GeoJSON, GeoPackage, shapefile or FlatGeobuf"),
        (
            "<OGRVRTDataSource><OGRVRTLayer name='a'><SrcDataSource>a.gpkg</SrcDataSource></OGRVRTLayer>",
            (
                "this is XML, such as KML or GML; save it as GeoPackage or GeoJSON; wanted is GeoJSON, GeoPackage, "
                "shapefile or FlatGeobuf"
            ),
        ),
    ],
)
def test_file_of_another_kind(estate: "Estate", text: str, sentence: str) -> None:
    estate.write("block.geojson", text)
    assert only(estate) == f"block.geojson: {sentence}"


def test_raster_given_as_boundary(estate: "Estate") -> None:
    estate.settings["block"]["boundary"] = "ground.tif"
    assert only(estate) == "ground.tif: this is a TIFF raster; wanted is GeoJSON, GeoPackage, shapefile or FlatGeobuf"


def test_missing_file_names_the_near_one(estate: "Estate") -> None:
    estate.settings["block"]["boundary"] = "blok.geojson"
    assert only(estate) == "blok.geojson: there is no such file; looked for blok.geojson; did you mean block.geojson?"


@pytest.mark.parametrize(
    ("member", "sentence"),
    [
        (
            None,
            "it names no CRS, so the place on earth is unknown; without the member it is WGS 84",
        ),
        (
            {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::99999999"}},
            '"urn:ogc:def:crs:EPSG::99999999" is no known CRS; without the member it is WGS 84',
        ),
        (
            {"type": "link", "properties": {"href": "http://example.invalid/"}},
            "it names no CRS, so the place on earth is unknown; without the member it is WGS 84",
        ),
    ],
)
def test_crs_member_that_the_driver_would_pass_over(estate: "Estate", member: Any, sentence: str) -> None:  # noqa: ANN401
    estate.boundary(ring(*SQUARE[:4]), crs=member)
    assert only(estate) == f"block.geojson, crs: {sentence}"


@pytest.mark.parametrize("wrong_id", [-1, 0])
def test_geopackage_with_undefined_crs(estate: "Estate", wrong_id: int) -> None:
    write(estate.folder / "block.gpkg", "GPKG")
    with sqlite3.connect(estate.folder / "block.gpkg") as database:
        database.execute("UPDATE gpkg_geometry_columns SET srs_id = ?", (wrong_id,))
        database.execute("UPDATE gpkg_contents SET srs_id = ?", (wrong_id,))
    database.close()
    estate.settings["block"]["boundary"] = "block.gpkg"
    assert only(estate) == "block.gpkg: the file names no CRS that ties it to the earth"


def test_flatgeobuf_without_crs(estate: "Estate") -> None:
    write(estate.folder / "block.fgb", "FlatGeobuf", crs=None)
    estate.settings["block"]["boundary"] = "block.fgb"
    assert only(estate) == "block.fgb: the file names no CRS that ties it to the earth"


def test_shapefile_without_prj(estate: "Estate") -> None:
    write(estate.folder / "block.shp", "ESRI Shapefile")
    (estate.folder / "block.prj").unlink()
    estate.settings["block"]["boundary"] = "block.shp"
    assert only(estate) == (
        "block.shp: the file names no CRS that ties it to the earth (the part that ends in .prj is missing)"
    )


def test_shapefile_without_index_or_by_another_part(estate: "Estate") -> None:
    write(estate.folder / "block.shp", "ESRI Shapefile")
    estate.settings["block"]["boundary"] = "block.dbf"
    assert only(estate) == "block.dbf: this is one part of a shapefile; give the part that ends in .shp"
    (estate.folder / "block.shx").unlink()
    estate.settings["block"]["boundary"] = "block.shp"
    assert only(estate) == (
        "block.shp: of this shapefile the part that ends in .shx is missing; keep all its parts together"
    )


def test_layers_none_named_or_a_wrong_one(estate: "Estate") -> None:
    for layer in ("upper", "lower"):
        write(estate.folder / "blocks.gpkg", "GPKG", layer=layer)
    estate.settings["block"]["boundary"] = "blocks.gpkg"
    assert only(estate) == "blocks.gpkg: the file has 2 layers (upper, lower); name the one to read in block.layer"
    estate.settings["block"]["layer"] = "middle"
    assert only(estate) == 'blocks.gpkg: there is no layer "middle"; there are upper, lower'


def test_geopackage_without_geometry(estate: "Estate") -> None:
    schema = {"geometry": "None", "properties": {"plot": "str"}}
    with fiona.open(estate.folder / "table.gpkg", "w", driver="GPKG", schema=schema) as file:
        file.write({"type": "Feature", "geometry": None, "properties": {"plot": "a"}})
    estate.settings["block"]["boundary"] = "table.gpkg"
    assert only(estate) == "table.gpkg: the file has no layer with geometry"


@pytest.mark.parametrize("driver", ["GPKG", "ESRI Shapefile", "FlatGeobuf"])
def test_layer_without_features(estate: "Estate", driver: str) -> None:
    name = f"empty.{ {'GPKG': 'gpkg', 'ESRI Shapefile': 'shp', 'FlatGeobuf': 'fgb'}[driver] }"
    write(estate.folder / name, driver, count=0)
    estate.settings["block"]["boundary"] = name
    assert only(estate) == f"{name}: the file has no features"


def test_files_cut_short(estate: "Estate") -> None:
    write(estate.folder / "whole.fgb", "FlatGeobuf", count=2)
    (estate.folder / "cut.fgb").write_bytes((estate.folder / "whole.fgb").read_bytes()[:-150])
    estate.settings["block"]["boundary"] = "cut.fgb"
    assert only(estate) == "cut.fgb: the file is damaged: it promises 2 features, only 0 can be read"
    write(estate.folder / "whole.gpkg", "GPKG")
    (estate.folder / "cut.gpkg").write_bytes((estate.folder / "whole.gpkg").read_bytes()[:50_000])
    estate.settings["block"]["boundary"] = "cut.gpkg"
    assert only(estate) == "cut.gpkg: the file is damaged and cannot be read"


def test_packed_shapefile(estate: "Estate") -> None:
    folder = estate.folder / "parts"
    folder.mkdir()
    write(folder / "block.shp", "ESRI Shapefile")
    shutil.make_archive(str(estate.folder / "block"), "zip", folder)
    estate.settings["block"]["boundary"] = "block.zip"
    assert only(estate) == (
        "block.zip: this is a packed archive; unpack it first; wanted is GeoJSON, GeoPackage, shapefile or FlatGeobuf"
    )


def test_exclusions_with_layers(estate: "Estate") -> None:
    for layer in ("rocks", "tanks"):
        write(estate.folder / "out.gpkg", "GPKG", layer=layer)
    estate.settings["block"]["exclusions"] = "out.gpkg"
    assert only(estate) == "out.gpkg: the file has 2 layers (rocks, tanks); keep the exclusions in a file of one layer"
