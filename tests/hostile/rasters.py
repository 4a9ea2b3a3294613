"""Height rasters and photos that nobody should hand over."""

import math
import warnings
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.errors import NotGeoreferencedWarning

from tests.hostile.case import EAST, NORTH, Estate, Random, Way, damage, number
from tests.refusals.conftest import COLUMNS, ROWS, UTM, heights

_PLACE: Final = Affine(1.0, 0.0, EAST, 0.0, -1.0, NORTH + ROWS)
_TYPES: Final = (
    "uint8",
    "int8",
    "int16",
    "uint16",
    "int32",
    "uint32",
    "float32",
    "float64",
    "complex64",
    "complex128",
    "int64",
)


def _photo(estate: Estate, data: NDArray[Any] | None = None, **profile: Any) -> None:  # noqa: ANN401
    estate.settings["map"] = {"orthophoto": "photo.tif"}
    data = np.full((3, ROWS, COLUMNS), 120, dtype=np.uint8) if data is None else data
    _ground(estate, data, name="photo.tif", **{"photometric": "RGB" if data.shape[0] in {3, 4} else None, **profile})


def _ground(estate: Estate, data: NDArray[Any], **profile: Any) -> None:  # noqa: ANN401
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        estate.ground(data, **{key: value for key, value in profile.items() if value is not None})


def values(estate: Estate, chance: Random) -> None:
    """Cells that are no heights, few or many of them."""
    data = heights().astype(chance.choice(["float32", "float64"]))
    odd = chance.choice([np.nan, np.inf, -np.inf, -9999.0, -32768.0, 0.0, 1e38, 3.4e38, 9e3, -1e3, 12_000.0, 1e-40])
    share = chance.choice([0.001, 0.05, 0.5, 1.0])
    if chance.random() < 0.5:
        data[np.random.default_rng(chance.randrange(99)).random(data.shape) < share] = odd
    else:
        data[int(ROWS * (1.0 - share)) :] = odd
    nodata = chance.choice([None, None, float(odd), -9999.0, float("nan")])
    _ground(estate, data, nodata=None if nodata is not None and abs(nodata) > 3e38 else nodata)


def grounds(estate: Estate, chance: Random) -> None:
    """Ground that no hill has."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS].astype(float)
    rng = np.random.default_rng(chance.randrange(99))
    made = [
        300.0 + 9000.0 * (column > 50),
        300.0 + 2.0 * column,
        300.0 + 100.0 * rng.random((ROWS, COLUMNS)),
        np.full((ROWS, COLUMNS), 7.0),
        300.0 + 50.0 * np.sin(column / 2.0),
        300.0 + 5.0 * ((row + column) % 2),
        np.where(row % 7 < 1, np.nan, 300.0),
        300.0 + np.cumsum(rng.normal(size=(ROWS, COLUMNS)), axis=1),
        300.0 + 0.3 * ((column // 3) % 2),
        -400.0 + 0.01 * row,
    ]
    _ground(estate, chance.choice(made).astype(np.float32))


def kinds(estate: Estate, chance: Random) -> None:
    kind = chance.choice(_TYPES)
    data = heights()
    data = (data if kind not in {"uint8", "int8"} else data % 100).astype(kind)
    if chance.random() < 0.3:
        data = np.stack([data] * chance.choice([2, 3, 300]))
    _ground(estate, data, unit=chance.choice([None, "metre", "ft", "US survey foot", "fathom", "x" * 1000, "\x1b[2J"]))


def positions(estate: Estate, chance: Random) -> None:
    a, e = number(chance), number(chance)
    turn = math.radians(chance.choice([0.0, 1.0, 45.0, 90.0, 180.0]))
    made = [
        Affine.identity(),
        Affine(a, 0.0, EAST, 0.0, -e, NORTH + ROWS),
        Affine(1.0, 0.0, a, 0.0, -1.0, e),
        _PLACE * Affine.rotation(math.degrees(turn)),
        _PLACE * Affine.shear(60.0, 10.0),
        Affine(0.0, 1.0, EAST, -1.0, 0.0, NORTH + ROWS),
        Affine(1.0, 0.0, EAST, 0.0, 1.0, NORTH),
        Affine(-1.0, 0.0, EAST + COLUMNS, 0.0, -1.0, NORTH + ROWS),
        _PLACE * Affine.scale(1e-9),
        _PLACE * Affine.scale(20.0),
        _PLACE * Affine.translation(5e4, 0.0),
        Affine(1.0, 1.0, EAST, 1.0, 1.0, NORTH),
        _PLACE * Affine.scale(0.5, 2.0),
    ]
    put = chance.choice(made)
    if chance.random() < 0.7:
        _ground(estate, heights(), transform=put)
    else:
        _photo(estate, transform=put)


def crs(estate: Estate, chance: Random) -> None:
    named = chance.choice(
        [
            None,
            "EPSG:4326",
            "EPSG:3857",
            "EPSG:32631",
            "EPSG:2193",
            "EPSG:4978",
            "EPSG:5773",
            "EPSG:4979",
            "ESRI:102001",
            "IAU_2015:30110",
        ]
    )
    put = chance.choice([_PLACE, Affine(1e-5, 0.0, -7.6, 0.0, -1e-5, 41.21)])
    _ground(estate, heights(), crs=CRS.from_user_input(named).to_wkt() if named else None, transform=put)
    if chance.random() < 0.3:
        estate.settings["elevation"]["raster_crs"] = chance.choice(["EPSG:32629", "EPSG:1", "x", "", "+proj=longlat"])


def tags(estate: Estate, chance: Random) -> None:
    odd = number(chance)
    with rasterio.open(estate.folder / "ground.tif", "r+") as raster:
        if chance.random() < 0.5:
            raster.scales = (odd,)
        else:
            raster.offsets = (odd,)


def damaged(estate: Estate, chance: Random) -> None:
    name = "ground.tif"
    options: dict[str, Any] = {"compress": chance.choice([None, "deflate", "lzw", "zstd", "lerc", "jpeg2000"][:4])}
    if chance.random() < 0.6:
        options |= {"tiled": True, "blockxsize": 32, "blockysize": 32}
    if chance.random() < 0.3:
        name = "photo.tif"
        _photo(estate, **options)
    else:
        _ground(estate, heights(), **options)
    path = estate.folder / name
    path.write_bytes(damage(path.read_bytes(), chance, chance.choice([None, 400, 1200])))


def sparse(estate: Estate, chance: Random) -> None:
    """Small files of very many cells."""
    side = chance.choice([5000, 19_000, 60_000, 200_000])
    kind = chance.choice(["float32", "float64", "uint8"])
    photo = chance.random() < 0.5
    cell = chance.choice([100.0 / side, 0.05, 1.0])
    profile: dict[str, Any] = {
        "driver": "GTiff",
        "dtype": "uint8" if photo else kind,
        "count": 3 if photo else 1,
        "width": side,
        "height": side,
        "crs": UTM,
        "transform": Affine(cell, 0.0, EAST, 0.0, -cell, NORTH + ROWS),
        "sparse_ok": True,
        "tiled": True,
        "compress": "deflate",
        "bigtiff": "yes",
        "blockxsize": 512,
        "blockysize": 512,
    }
    name = "photo.tif" if photo else "ground.tif"
    if photo:
        estate.settings["map"] = {"orthophoto": name}
    if chance.random() < 0.5 and profile["dtype"] != "uint8":
        profile["nodata"] = -9999.0
    with rasterio.open(estate.folder / name, "w", **profile):
        pass


def small(estate: Estate, chance: Random) -> None:
    shape = chance.choice([(1, 1), (1, COLUMNS), (ROWS, 1), (2, 2), (3, 3)])
    scale = chance.choice([1.0, 10.0, 100.0])
    _ground(estate, np.full(shape, 300.0, dtype=np.float32), transform=_PLACE * Affine.scale(scale))


def photos(estate: Estate, chance: Random) -> None:
    kind = chance.choice(["uint8", "uint8", "uint16", "float32", "complex64"])
    bands = chance.choice([1, 2, 3, 4, 5, 200])
    _photo(
        estate,
        np.full((bands, ROWS, COLUMNS), chance.choice([0, 120, 255]), dtype=kind),
        nodata=chance.choice([None, 120.0, 0.0]),
    )
    estate.settings["map"]["orthophoto_px"] = chance.choice([1600, 1, 0, -5, 10**9, 8000])


def beside(estate: Estate, chance: Random) -> None:
    """Files beside a raster that point elsewhere, or are none."""
    listening = "http://localhost:9/x.tif"
    texts = [
        (
            f'<PAMDataset><Metadata domain="OVERVIEWS"><MDI key="OVERVIEW_FILE">/vsicurl/{listening}</MDI></Metadata>'
            "</PAMDataset>"
        ),
        "<PAMDataset><SRS>x</SRS><GeoTransform>a</GeoTransform></PAMDataset>",
        "<a>" * 100_000,
        "\0" * 1000,
        "<PAMDataset><PAMRasterBand band='1'><NoDataValue>300</NoDataValue><Scale>nan</Scale></PAMRasterBand>",
        '<!DOCTYPE a [<!ENTITY b "b"><!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><a>&c;</a>',
        "",
        "1\n0\n0\n-1\n0\n0\n",
        "nan\n" * 6,
        "a b c",
    ]
    name = chance.choice(
        ["ground.tif.aux.xml", "ground.tfw", "ground.tif.ovr", "ground.tif.msk", "ground.prj", "ground.wld"]
    )
    estate.write(name, chance.choice(texts))
    if name == "ground.tfw":
        _ground(estate, heights(), transform=Affine.identity())


def lists(estate: Estate, chance: Random) -> None:
    """Lists and folders of rasters that do not go together."""
    _ground(
        estate,
        heights(),
        name="second.tif",
        transform=_PLACE * Affine.translation(chance.choice([0.0, 0.5, COLUMNS, 1e7]), 0.0),
    )
    _ground(estate, heights() * 3.0, name="third.tif", crs=chance.choice([UTM, "EPSG:32630"]))
    several: list[Any] = [
        ["ground.tif", "second.tif"],
        ["ground.tif", "third.tif"],
        ["ground.tif"] * 50,
        [],
        [""],
        ["ground.tif", "none.tif"],
        ".",
        [".", "."],
        ["ground.tif"] * 5001,
        ["ground.tif", "block.geojson"],
    ]
    estate.settings["elevation"]["raster"] = chance.choice(several)


def lists_in_xml(estate: Estate, chance: Random) -> None:
    source = chance.choice(
        ["ground.tif", "/vsicurl/http://localhost:9/a", "list.vrt", "none.tif", "../" * 50 + "etc/passwd", "a\0b"]
    )
    size = chance.choice(["110", "-1", "9" * 30, "x", "100000000"])
    inside = chance.choice(
        [
            (
                f'<SimpleSource><SourceFilename relativeToVRT="1">{source}</SourceFilename><SourceBand>1</SourceBand>'
                "</SimpleSource>"
            ),
            f"<ComplexSource><SourceFilename>{source}</SourceFilename><ScaleRatio>nan</ScaleRatio></ComplexSource>",
            "<PixelFunctionType>f</PixelFunctionType><PixelFunctionCode>import os</PixelFunctionCode>",
            "",
            "<a>" * 3000,
        ]
    )
    band = f'<VRTRasterBand dataType="Float32" band="1">{inside}</VRTRasterBand>'
    text = f'<VRTDataset rasterXSize="{size}" rasterYSize="100">{band}</VRTDataset>'
    if chance.random() < 0.3:
        text = damage(text.encode(), chance).decode("latin-1")
    if chance.random() < 0.2:
        text = '<!DOCTYPE v [<!ENTITY a "' + "x" * 1000 + '">]>' + text.replace("Float32", "&a;" * 1000)
    estate.write("list.vrt", text)
    estate.settings["elevation"]["raster"] = "list.vrt"


def grids(estate: Estate, chance: Random) -> None:
    """ASCII grids."""
    head = "ncols 110\nnrows 100\nxllcorner 617400\nyllcorner 4562000\ncellsize 1\nNODATA_value -9999\n"
    body = "\n".join(
        " ".join(f"{300 + 0.1 * column - 0.1 * row:.2f}" for column in range(COLUMNS)) for row in range(ROWS)
    )
    made = [
        head + body,
        head + body[: len(body) // 2],
        head.replace("110", "100000000") + body,
        head.replace("110", "-3") + body,
        head.replace("cellsize 1", "cellsize nan") + body,
        head + body.replace("300", "x"),
        head + body.replace(".", ","),
        head,
        body,
        head.replace("617400", "1e400") + body,
        head + "\0" * 1000,
        head.replace("100\n", "0\n") + body,
        head.replace("cellsize 1\n", "") + body,
        head + "9" * 1_000_000,
        head.replace("\n", "\r") + body,
        "ncols " + "9" * 10_000,
    ]
    estate.write("ground.asc", chance.choice(made))
    estate.settings["elevation"] |= {"raster": "ground.asc", "raster_crs": UTM}


WAYS: Final[tuple[Way, ...]] = (
    *(
        values,
        values,
        values,
        grounds,
        grounds,
        kinds,
        positions,
        positions,
        crs,
        tags,
        damaged,
        damaged,
        damaged,
        sparse,
        sparse,
    ),
    *(small, photos, photos, beside, lists, lists_in_xml, grids),
)
