"""Boundaries and exclusions that nobody should hand over."""

import json
import math
import sqlite3
from typing import Any, Final

import fiona
import numpy as np
from wirerun.read.layer import DRIVERS

from tests.hostile.case import RING, WORDS, Estate, Random, Way, damage, feature, lonlat, number, polygon

_ENDS: Final = {"GeoJSON": "geojson", "ESRI Shapefile": "shp", "FlatGeobuf": "fgb", "GPKG": "gpkg"}


def _write(estate: Estate, features: list[dict[str, Any]], name: str = "block.geojson", **members: Any) -> None:  # noqa: ANN401
    estate.write(name, json.dumps({"type": "FeatureCollection", "features": features, **members}))


def _role(estate: Estate, chance: Random) -> str:
    """Return the name of the file to break: the boundary's, or that of exclusions."""
    if chance.random() < 0.7:
        return "block.geojson"
    estate.settings["block"]["exclusions"] = "holes.geojson"
    return "holes.geojson"


def _regular(count: int, radius: float, middle: tuple[float, float] = (50.0, 40.0)) -> list[tuple[float, float]]:
    turns = np.arange(count) * 2.0 * math.pi / count
    return [(middle[0] + radius * math.cos(turn), middle[1] + radius * math.sin(turn)) for turn in turns]


def shapes(estate: Estate, chance: Random) -> None:
    """One shape of many that are no block."""
    name = _role(estate, chance)
    star = _regular(chance.choice([5, 101, 1001]), 30.0)
    rings: list[list[tuple[float, float]]] = [
        [RING[0], RING[2], RING[1], RING[3]],
        [RING[0], RING[1], RING[0]],
        [RING[0]] * 5,
        [*RING, *RING],
        [star[(2 * index) % len(star)] for index in range(len(star))],
        [(20.0, 20.0), (80.0, 20.0), (80.0, 20.0 + 10.0 ** -chance.randrange(1, 12))],
        [(20.0, 20.0), (80.0, 20.0), (50.0, 20.0), (50.0, 60.0)],
        [(0.0, 0.0), (0.001, 0.0), (0.001, 0.001)],
        [(-1e5, -1e5), (1e5, -1e5), (1e5, 1e5), (-1e5, 1e5)],
        [(20.0, 20.0), (80.0, 20.0), (80.0, 60.0), (50.0, 60.0), (50.0, 20.0), (50.0, 60.0), (20.0, 60.0)],
    ]
    _write(estate, [feature({"type": "Polygon", "coordinates": [lonlat(chance.choice(rings))]})], name)


def holes(estate: Estate, chance: Random) -> None:
    outer = _regular(40, 35.0)
    inner = [
        [_regular(20, 40.0)],
        [_regular(20, 20.0), _regular(20, 10.0)],
        [_regular(20, 20.0), _regular(20, 20.0)],
        [_regular(40, 35.0)],
        [_regular(20, 10.0, (85.0, 40.0))],
        [_regular(10, 0.2, (20.0 + 1.1 * (n % 40), 20.0 + 1.1 * (n // 40))) for n in range(chance.choice([50, 800]))],
    ]
    coordinates = [lonlat(ring) for ring in (outer, *chance.choice(inner))]
    _write(estate, [feature({"type": "Polygon", "coordinates": coordinates})], _role(estate, chance))


def geometries(estate: Estate, chance: Random) -> None:
    """JSON that is no polygon."""
    ring: Any = lonlat(RING)
    made: list[Any] = [
        None,
        {},
        [],
        "POLYGON",
        3,
        {"type": "Polygon"},
        {"type": "Polygon", "coordinates": None},
        {"type": "Polygon", "coordinates": []},
        {"type": "Polygon", "coordinates": [[]]},
        {"type": "Polygon", "coordinates": [ring, []]},
        {"type": "Polygon", "coordinates": ring},
        {"type": "Polygon", "coordinates": [[[1.0]]]},
        {"type": "Polygon", "coordinates": [[["a", "b"]] * 4]},
        {"type": "Polygon", "coordinates": [[[None, None]] * 4]},
        {"type": "MultiPolygon", "coordinates": [[ring], [ring]]},
        {"type": "MultiPolygon", "coordinates": []},
        {"type": "Point", "coordinates": ring[0]},
        {"type": "LineString", "coordinates": ring},
        {"type": "GeometryCollection", "geometries": []},
        {"type": "GeometryCollection", "geometries": [{"type": "Polygon", "coordinates": [ring]}]},
        {"type": "Polygon", "coordinates": [[[*at, number(chance)] for at in ring]]},
        {"type": "Polygon", "coordinates": [[[*at, 1.0, 2.0, 3.0] for at in ring]]},
        {"type": "Polygon", "coordinates": [ring[:-1]]},
        {"type": "polygon", "coordinates": [ring]},
        {"type": "Polygon", "coordinates": [[[lat, lon] for lon, lat in ring]]},
        {"type": "Polygon", "coordinates": [[[lon + 360.0, lat] for lon, lat in ring]]},
        {
            "type": "Polygon",
            "coordinates": [[[179.9, 10.0], [-179.9, 10.0], [-179.9, 10.1], [179.9, 10.1], [179.9, 10.0]]],
        },
        {"type": "Polygon", "coordinates": [[[number(chance), number(chance)] for _ in range(5)]]},
    ]
    good = feature(polygon(RING))
    several = [feature(chance.choice(made)), *([good] if chance.random() < 0.5 else [])]
    _write(estate, several, _role(estate, chance))


def members(estate: Estate, chance: Random) -> None:
    """GeoJSON with members of other kinds than the standard has."""
    crs = [
        "EPSG:4326",
        "EPSG:99999",
        "urn:ogc:def:crs:EPSG::32629",
        "EPSG:3857",
        "EPSG:4978",
        "EPSG:5773",
        "IAU_2015:30100",
        "",
        "x" * 10_000,
        "+proj=longlat +R=1",
        "+proj=pipeline +step +proj=axisswap",
        'LOCAL_CS["x"]',
        "EPSG:32629+5773",
    ]
    kinds: list[Any] = [
        {"type": "name", "properties": {"name": chance.choice(crs)}},
        None,
        3,
        [],
        {"type": "name"},
        {"type": "link", "properties": {"href": "http://localhost:9/crs", "type": "proj4"}},
        {"type": "EPSG", "properties": {}},
    ]
    _write(estate, [feature(polygon(RING))], _role(estate, chance), crs=chance.choice(kinds))


def json_texts(estate: Estate, chance: Random) -> None:
    name = _role(estate, chance)
    _write(estate, [feature(polygon(RING), plot="näme")], name)
    text = (estate.folder / name).read_text()
    deep = chance.choice([400, 1000, 100_000])
    made = [
        text.replace("[", "[" * deep),
        text.replace('"n', '"n\t'),
        text + text,
        text[:-1],
        text.replace(",", ",,"),
        text.replace("41.", "NaN, 41."),
        text.replace("41.", "1e999, 41."),
        text.replace("41.", "9" * 6000 + "."),
        '{"type": "FeatureCollection", "features": []}',
        '{"type": "FeatureCollection"}',
        "{}",
        "[]",
        "null",
        " ",
        '"a"',
        text.replace('"FeatureCollection"', '"Topology"'),
        text.replace('"features"', '"Features"'),
        "\ufeff" + text,
        text.replace('"plot"', '"plot": "a", "plot"'),
        json.dumps({"type": "Feature", "geometry": None, "properties": None}),
        text.replace('"properties": {', '"properties": null, "x": {'),
        '{"a": ' * deep + "1" + "}" * deep,
    ]
    coding = chance.choice(["utf-8", "utf-8", "utf-16", "latin-1"])
    (estate.folder / name).write_bytes(chance.choice(made).encode(coding, errors="replace"))


def attributes(estate: Estate, chance: Random) -> None:
    """Names of blocks that cannot serve as such."""
    odd: list[Any] = [*WORDS, 3, 3.5, 1e300, True, None, [], {}, [1], {"a": 1}, 10**30, "B01", "B02", "one", "one"]
    estate.named(chance.choice(odd), chance.choice(odd))
    if chance.random() < 0.3:
        estate.settings["block"]["id_field"] = chance.choice(["", "Plot", "plot ", "\x1b[2J", "x" * 1000, "fid"])


def wide_tables(estate: Estate, chance: Random) -> None:
    count = chance.choice([500, 5000])
    properties = {f"{chance.choice(WORDS)[:50]}{n}": n for n in range(count)}
    _write(estate, [feature(polygon(RING), **properties)])


def same_place(estate: Estate, chance: Random) -> None:
    """Many blocks on the same ground."""
    count = chance.choice([2, 200, 1000])
    apart = chance.choice([0.0, 0.0, 1e-6, 0.01])
    ring = [(20.0, 15.0), (40.0, 15.0), (40.0, 35.0), (20.0, 35.0)]
    shifted = ([(x + n * apart, y) for x, y in ring] for n in range(count))
    _write(estate, [feature(polygon(one)) for one in shifted])


def many_slivers(estate: Estate, chance: Random) -> None:
    count = chance.choice([1000, 10_000])
    ring = lonlat([(20.0, 15.0), (30.0, 15.0), (30.0, 15.1)])
    made = [
        feature({"type": "Polygon", "coordinates": [[[x + 1e-3 * (n % 100), y + 1e-5 * (n // 100)] for x, y in ring]]})
        for n in range(count)
    ]
    _write(estate, made)


def many_exclusions(estate: Estate, chance: Random) -> None:
    count = chance.choice([1000, 10_000, 100_000])
    side = math.ceil(math.sqrt(count))
    step = 60.0 / side
    size = step * chance.choice([0.3, 0.9, 1.5])
    corner = np.array(lonlat([(20.0, 15.0), (20.0 + size, 15.0), (20.0 + size, 15.0 + size), (20.0, 15.0 + size)]))
    east, north = (np.array(lonlat([(20.0, 15.0), at])[1]) - corner[0] for at in ((21.0, 15.0), (20.0, 16.0)))
    made = [
        feature(
            {
                "type": "Polygon",
                "coordinates": [(corner + (n % side) * step * east + (n // side) * step * north).tolist()],
            }
        )
        for n in range(count)
    ]
    estate.settings["block"]["exclusions"] = "holes.geojson"
    _write(estate, made, "holes.geojson")


def many_vertices(estate: Estate, chance: Random) -> None:
    count = chance.choice([10_000, 100_000, 1_000_000])
    rough = chance.choice([0.0, 0.01, 3.0])
    turns = np.arange(count) * 2.0 * np.pi / count
    radius = 30.0 + rough * np.sin(turns * (count // 10 or 1))
    at = np.column_stack([50.0 + radius * np.cos(turns), 45.0 + radius * np.sin(turns)])
    corner, east, north = (np.array(lonlat([place])[0]) for place in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)))
    ring = corner + at[:, :1] * (east - corner) + at[:, 1:] * (north - corner)
    _write(estate, [feature({"type": "Polygon", "coordinates": [[*ring.tolist(), ring[0].tolist()]]})])


def comb(estate: Estate, chance: Random) -> None:
    """A block of many teeth: each row is cut to pieces."""
    teeth = chance.choice([20, 200, 2000])
    width = 70.0 / teeth
    ring = [(15.0, 15.0), (85.0, 15.0)]
    for tooth in reversed(range(teeth)):
        left = 15.0 + tooth * width
        ring += [
            (left + 0.7 * width, 20.0),
            (left + 0.7 * width, 60.0),
            (left + 0.3 * width, 60.0),
            (left + 0.3 * width, 20.0),
        ]
    _write(estate, [feature(polygon(ring))])
    estate.settings["rows"]["bearing_deg"] = chance.choice([0.0, 45.0, 90.0])


def _of_driver(estate: Estate, driver: str, count: int = 3, crs: str | None = "EPSG:4326", **options: Any) -> str:  # noqa: ANN401
    name = f"b.{_ENDS[driver]}"
    schema = {"geometry": "Polygon", "properties": {"plot": "str"}}
    with fiona.open(estate.folder / name, "w", driver=driver, crs=crs, schema=schema, **options) as file:
        for n in range(count):
            moved = [(x, y + 50.0 * n) for x, y in RING]
            file.write({"type": "Feature", "geometry": polygon(moved), "properties": {"plot": f"n{n}"}})
    estate.settings["block"]["boundary"] = name
    return name


def damaged(estate: Estate, chance: Random) -> None:
    name = _of_driver(estate, chance.choice([*DRIVERS, "GPKG"]))
    parts = sorted(path for path in estate.folder.iterdir() if path.stem == "b")
    path = chance.choice(parts)
    path.write_bytes(damage(path.read_bytes(), chance))
    if chance.random() < 0.5:
        estate.settings["block"]["id_field"] = "plot"
    if chance.random() < 0.3:
        estate.settings["block"] |= {"boundary": "block.geojson", "exclusions": name}


def parts_missing(estate: Estate, chance: Random) -> None:
    _of_driver(estate, "ESRI Shapefile")
    ends = chance.sample([".shp", ".shx", ".dbf", ".prj", ".cpg"], chance.choice([1, 2]))
    for end in ends:
        path = (estate.folder / "b.shp").with_suffix(end)
        if path.exists() and chance.random() < 0.7:
            path.unlink()
        else:
            path.write_bytes(chance.choice([b"", b"x", b"\0" * 100]))
    estate.settings["block"]["boundary"] = chance.choice(["b.shp", "b.shp", "b.dbf", "b.shx", "b.prj"])


def wrong_crs(estate: Estate, chance: Random) -> None:
    crs = chance.choice([None, "EPSG:3857", "EPSG:32631", "EPSG:2193", "EPSG:27700", "ESRI:102001", "EPSG:4978"])
    _of_driver(estate, chance.choice(["ESRI Shapefile", "FlatGeobuf", "GPKG"]), crs=crs)


def wrong_name(estate: Estate, chance: Random) -> None:
    """A file of one kind that is called another."""
    name = _of_driver(estate, chance.choice([*DRIVERS, "GPKG"]))
    other = f"c.{chance.choice([*_ENDS.values(), 'kml', 'zip', 'txt', 'tif'])}"
    (estate.folder / name).rename(estate.folder / other)
    estate.settings["block"]["boundary"] = other


def other_files(estate: Estate, chance: Random) -> None:
    texts = [
        b"<kml xmlns='http://www.opengis.net/kml/2.2'/>",
        b"PK\x03\x04" + b"\0" * 100,
        b"%PDF-1.4",
        b"name,x,y\na,1,2\n",
        b"<!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><a>&b;</a>",
        b"<OGRVRTDataSource/>",
        b"fgb\3fgb\0",
        b"SQLite format 3\0",
        b"\0\0\x27\x0a" + b"\0" * 96,
        b"GIF89a",
        b"POLYGON ((0 0, 1 0, 1 1, 0 0))",
        b"\x89HDF\r\n",
        b"{" * 10**6,
    ]
    (estate.folder / "b.geojson").write_bytes(chance.choice(texts))
    estate.settings["block"]["boundary"] = "b.geojson"


def geopackage(estate: Estate, chance: Random) -> None:
    """A GeoPackage whose tables are not what they should be."""
    _of_driver(estate, "GPKG", layer="plots")
    texts = [
        "DROP TABLE gpkg_contents",
        "DELETE FROM gpkg_contents",
        "DROP TABLE gpkg_spatial_ref_sys",
        "UPDATE gpkg_contents SET table_name = 'none'",
        "UPDATE gpkg_geometry_columns SET srs_id = 77777",
        "UPDATE gpkg_spatial_ref_sys SET definition = 'x'",
        "UPDATE gpkg_geometry_columns SET srs_id = -1",
        "UPDATE gpkg_spatial_ref_sys SET organization_coordsys_id = 'abc'",
        "UPDATE plots SET geom = NULL",
        "UPDATE plots SET geom = x'4750'",
        "UPDATE plots SET geom = 'text'",
        "UPDATE plots SET geom = zeroblob(90000000)",
        "UPDATE plots SET geom = substr(geom, 1, 60)",
        "UPDATE plots SET geom = x'47500001E6100000' || substr(geom, 9)",
        "UPDATE plots SET plot = zeroblob(50000000)",
        "UPDATE plots SET plot = x'FF00FE'",
        "DELETE FROM plots",
        "ALTER TABLE plots RENAME COLUMN geom TO shape",
        'ALTER TABLE plots RENAME COLUMN plot TO "a""b"',
        "ALTER TABLE plots ADD COLUMN endless AS (plot || plot)",
        "UPDATE gpkg_geometry_columns SET column_name = 'x'",
        "CREATE VIEW v AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n) SELECT i FROM n",
        "UPDATE gpkg_contents SET data_type = 'tiles'",
        "PRAGMA user_version = 99",
        "PRAGMA application_id = 1",
    ]
    base = sqlite3.connect(estate.folder / "b.gpkg")
    for name, many in (("ST_IsEmpty", 1), ("ST_MinX", 1), ("ST_MaxX", 1), ("ST_MinY", 1), ("ST_MaxY", 1)):
        base.create_function(name, many, lambda *_: 0.0)
    try:
        with base:
            base.execute(chance.choice(texts))
    except sqlite3.Error:
        pass  # a trigger of the file's would not have it: it stays as it was
    base.close()
    if chance.random() < 0.5:
        estate.settings["block"]["layer"] = chance.choice(
            ["plots", "Plots", "none", "v", "gpkg_contents", "sqlite_master", ""]
        )


def many_layers(estate: Estate, chance: Random) -> None:
    _of_driver(estate, "GPKG", count=1, layer="plots")
    base = sqlite3.connect(estate.folder / "b.gpkg")
    with base:
        for n in range(chance.choice([2, 900])):
            base.execute(f"CREATE TABLE t{n} (fid INTEGER PRIMARY KEY, geom BLOB)")
            base.execute(
                "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) VALUES (?, 'features', ?, 4326)",
                (f"t{n}", f"t{n}"),
            )
            base.execute("INSERT INTO gpkg_geometry_columns VALUES (?, 'geom', 'POLYGON', 4326, 0, 0)", (f"t{n}",))
    base.close()


WAYS: Final[tuple[Way, ...]] = (
    *(
        shapes,
        shapes,
        holes,
        geometries,
        geometries,
        members,
        json_texts,
        json_texts,
        attributes,
        attributes,
        wide_tables,
    ),
    *(
        same_place,
        many_slivers,
        many_exclusions,
        many_vertices,
        comb,
        damaged,
        damaged,
        damaged,
        parts_missing,
        wrong_crs,
    ),
    *(wrong_name, other_files, geopackage, geopackage, many_layers),
)
