"""Every way an orthophoto and the settings of the map can be wrong, and the sentence for it."""

import warnings
from typing import TYPE_CHECKING

import numpy as np
import pytest
from affine import Affine
from rasterio.errors import NotGeoreferencedWarning
from wirerun.errors import Exit
from wirerun.settings import MapSettings

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

EAST, NORTH = 617_400.0, 4_562_000.0
TILES = "https://tiles.example.org/{z}/{x}/{y}.png"


def painted(bands: int = 3) -> np.ndarray:
    return np.full((bands, 100, 110), 120, dtype=np.uint8)


@pytest.fixture
def photo(estate: "Estate") -> "Estate":
    """Return an estate with a good photo."""
    estate.settings["map"] = {"orthophoto": "photo.tif"}
    estate.ground(painted(), name="photo.tif", photometric="RGB")
    return estate


def only(estate: "Estate") -> str:
    sentences, code = estate.refusal()
    (sentence,) = sentences
    assert code == Exit.BAD_INPUT
    return sentence


def test_a_good_photo_is_read_and_has_its_fingerprint(photo: "Estate") -> None:
    inputs = photo.read()
    assert inputs.orthophoto is not None
    assert inputs.orthophoto.covered.all()
    assert [one.path for one in inputs.sources if one.role == "orthophoto"] == ["photo.tif"]


def test_no_such_file(photo: "Estate") -> None:
    photo.settings["map"]["orthophoto"] = "foto.tif"
    assert only(photo) == "foto.tif: there is no such file; looked for foto.tif; did you mean photo.tif?"


def test_no_raster(photo: "Estate") -> None:
    photo.settings["map"]["orthophoto"] = "block.geojson"
    assert only(photo) == "block.geojson: this is no GeoTIFF that can be read; an orthophoto is one"


def test_damaged(photo: "Estate") -> None:
    noise = np.random.default_rng(5).integers(0, 255, (3, 100, 110), dtype=np.uint8)
    photo.ground(noise, name="photo.tif", photometric="RGB", compress="deflate")
    whole = (photo.folder / "photo.tif").read_bytes()
    (photo.folder / "photo.tif").write_bytes(whole[:2000] + bytes(len(whole) - 2000))
    assert only(photo) == "photo.tif: the GeoTIFF is damaged where the blocks lie: it cannot be read"


@pytest.mark.parametrize(("bands", "words"), [(1, "1 band"), (2, "2 bands"), (5, "5 bands")])
def test_not_three_or_four_bands(photo: "Estate", bands: int, words: str) -> None:
    photo.ground(painted(bands), name="photo.tif")
    assert only(photo) == f"photo.tif: it has {words}; an orthophoto has 3 (red, green, blue), or 4 with a mask"


def test_more_than_eight_bits(photo: "Estate") -> None:
    photo.ground(painted().astype(np.uint16), name="photo.tif")
    assert only(photo) == "photo.tif: its values are of type uint16; an orthophoto has 8 bits a band (uint8)"


def test_no_crs_and_no_position_are_told_together(photo: "Estate") -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        photo.ground(painted(), name="photo.tif", crs=None, transform=Affine.identity())
    sentences, _ = photo.refusal()
    assert sentences == [
        "photo.tif: it has no position: no corner and cell size (geotransform) that can be used",
        "photo.tif: it names no CRS that ties it to the earth",
    ]


def test_another_place(photo: "Estate") -> None:
    photo.ground(painted(), name="photo.tif", transform=Affine(1.0, 0.0, EAST + 5000.0, 0.0, -1.0, NORTH + 100.0))
    assert only(photo) == "photo.tif: it shows another place: no block of the boundary lies on it"


def test_empty_where_the_blocks_lie(photo: "Estate") -> None:
    photo.ground(painted(), name="photo.tif", nodata=120)
    assert only(photo) == "photo.tif: it is empty where the blocks lie"


def test_a_photo_is_told_of_with_everything_else(photo: "Estate") -> None:
    photo.settings["elevation"]["raster"] = "grund.tif"
    photo.ground(painted(1), name="photo.tif")
    sentences, _ = photo.refusal()
    assert [sentence.partition(":")[0] for sentence in sentences] == ["grund.tif", "photo.tif"]


@pytest.mark.parametrize(
    ("settings", "sentence"),
    [
        (
            {"orthophoto": "https://example.org/photo.tif"},
            (
                "map.orthophoto: 'https://example.org/photo.tif' is a URL, a virtual path or a connection string; only "
                "plain local files are read"
            ),
        ),
        ({"orthophoto_px": 100}, "map.orthophoto_px: 100 is below the least value 200"),
        ({"basemap": TILES}, "map: basemap needs basemap_attribution: say whose map it is"),
        (
            {"basemap": "http://tiles.example.org/{z}/{x}/{y}.png", "basemap_attribution": "Us"},
            (
                'map.basemap: "http://tiles.example.org/{z}/{x}/{y}.png" will not do; wanted is an address such as '
                "https://tiles.example.org/{z}/{x}/{y}.png"
            ),
        ),
        (
            {"basemap": "https://tiles.example.org/{z}/{x}.png", "basemap_attribution": "Us"},
            (
                'map.basemap: "https://tiles.example.org/{z}/{x}.png" will not do; it must have {z}, {x} and {y} once '
                "each, and no other braces"
            ),
        ),
    ],
)
def test_settings_of_the_map(estate: "Estate", settings: dict[str, object], sentence: str) -> None:
    estate.settings["map"] = settings
    assert only(estate) == f"config.toml, {sentence}"


@pytest.mark.parametrize(
    "address",
    [
        "https://a.org; script-src *//{z}/{x}/{y}",
        "https://a.org'/{z}/{x}/{y}",
        'https://a.org/"><script>/{z}/{x}/{y}',
        "https://user@a.org/{z}/{x}/{y}",
        "https:///{z}/{x}/{y}",
        "https://a.org /{z}/{x}/{y}",
        "https://{s}.a.org/{z}/{x}/{y}",
        "https://a.org/{z}/{x}/{y}/{s}",
        "https://a.org/{z}/{x}/{y}\n",
    ],
)
def test_nothing_but_a_host_gets_into_the_policy(address: str) -> None:
    with pytest.raises(ValueError, match="will not do"):
        MapSettings(basemap=address, basemap_attribution="Us")


def test_the_origin_is_the_host_alone() -> None:
    assert MapSettings(basemap=TILES, basemap_attribution="Us").basemap_origin == "https://tiles.example.org"
    assert MapSettings().basemap_origin == ""
