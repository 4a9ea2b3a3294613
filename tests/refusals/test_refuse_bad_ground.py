"""A raster whose heights are no bare ground: refused or warned of, with the place, and what to do."""

import math
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray
from pyproj import Transformer
from wirerun.errors import Exit
from wirerun.read.config import load_config
from wirerun.read.inputs import read_inputs

if TYPE_CHECKING:
    from tests.refusals.conftest import Estate

EAST, NORTH = 617_400.0, 4_562_000.0
ROWS, COLUMNS = 100, 110
TO_UTM = Transformer.from_crs("EPSG:4326", "EPSG:32629", always_xy=True)


def place(x: float, y: float) -> str:
    """Return a place given in metres from the corner, as a sentence has it."""
    lon, lat = TO_UTM.transform(EAST + x, NORTH + y, direction="INVERSE")
    return f"longitude {lon:.6f}, latitude {lat:.6f}"


def metres() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """East and north of the corner, of the centres of the estate's cells of 1 m."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    return column + 0.5, ROWS - row - 0.5


def hill() -> NDArray[np.float32]:
    x, y = metres()
    return np.asarray(300.0 + 0.0613 * x + 0.1137 * y + np.sin(x / 9.0), dtype=np.float32)


def cell(x: float, y: float) -> tuple[int, int]:
    return ROWS - 1 - math.floor(y), math.floor(x)


def refused(estate: "Estate") -> str:
    (sentence,), code = estate.refusal()
    assert code == Exit.BAD_INPUT
    return sentence


def warned(estate: "Estate") -> tuple[str, str]:
    (finding,) = estate.read().findings
    assert (finding.level, finding.place) == ("warning", "B01")
    return finding.code, finding.message


def test_good_ground_says_nothing(estate: "Estate") -> None:
    estate.ground(hill())
    assert estate.read().findings == ()


def test_zeros(estate: "Estate") -> None:
    """20 m by 10 m of zeros, well within the block; a second patch outside it matters to nobody."""
    data = hill()
    data[cell(0, 49)[0] : cell(0, 39)[0], 40:60] = 0.0
    data[90:, :15] = 0.0
    estate.ground(data)
    sentence = refused(estate)
    found = re.fullmatch(
        r"ground\.tif, block B01: 200 cells are exactly 0 m high \((\d+\.\d) m2, within (\d+\.\d) m by (\d+\.\d) m, "
        r"the biggest part round longitude (\S+), latitude (\S+)\), the ground round them (\d+\.\d) to (\d+\.\d) m; "
        r"declare 0 as the raster's no-data number, or fill them",
        sentence,
    )
    assert found, sentence
    # The scale of UTM there is 1 - 0.00023: a cell of 1 m in the grid is a little more on the ground.
    assert float(found[1]) == pytest.approx(200.0, abs=0.2)
    assert (float(found[2]), float(found[3])) == (20.0, 10.0)
    east, north = TO_UTM.transform(float(found[4]), float(found[5]))
    assert (east - EAST, north - NORTH) == pytest.approx((50.0, 45.0), abs=1.1)
    assert 301.0 < float(found[6]) < float(found[7]) < 315.0
    # Declared, they are a hole and no more.
    estate.ground(data, nodata=0.0)
    estate.settings["elevation"]["least_cover_pct"] = 50.0
    assert [finding.code for finding in estate.read().findings] == ["cover-gap"]


def test_one_zero(estate: "Estate") -> None:
    data = hill()
    data[cell(50.5, 39.5)] = 0.0
    estate.ground(data)
    assert refused(estate).startswith(
        f"ground.tif, block B01: 1 cell is exactly 0 m high (1.0 m2, within 1.0 m by 1.0 m, the biggest part round "
        f"{place(50.5, 39.5)}), the ground round them"
    )


def test_a_block_that_lies_in_zeros_as_a_whole(estate: "Estate") -> None:
    """Told by the ground within reach of its rows; where that is all zeros, too, it passes as level."""
    x, y = metres()
    estate.ground(np.where((x < 83.0) & (y < 62.0), 0.0, hill()).astype(np.float32))
    assert "cells are exactly 0 m high" in refused(estate)
    estate.ground(np.zeros((ROWS, COLUMNS), dtype=np.float32))
    assert estate.read().findings == ()


def test_a_cliff(estate: "Estate") -> None:
    """A drop of 12 m at x = 50 m, in a block that reaches from y = 16 to 57 m there."""
    x, _ = metres()
    estate.ground(np.asarray(300.0 + 0.0 * x - np.where(x > 50.0, 12.0, 0.0), dtype=np.float32))
    found = re.fullmatch(
        r"ground\.tif, block B01: the ground rises or falls by as much as 12\.0 m within 3 m, at longitude (\S+), "
        r"latitude (\S+); (\d+) pairs of cells are over the limit of 10 m; mend the raster there, or keep the place "
        r"out \(block\.exclusions\)",
        refused(estate),
    )
    assert found
    east, north = TO_UTM.transform(float(found[1]), float(found[2]))
    assert east - EAST == pytest.approx(50.0, abs=1.6)
    assert 15.0 < north - NORTH < 60.0
    # Three pairs in each of the 41 lines of cells.
    assert int(found[3]) == pytest.approx(3 * 41, abs=6)
    estate.boundary({"type": "Polygon", "coordinates": [_ring(48.0, 52.0)]}, name="out.geojson")
    estate.settings["block"]["exclusions"] = "out.geojson"
    assert estate.read().findings == ()


def _ring(west: float, east: float) -> list[list[float]]:
    corners = [(west, 0.0), (east, 0.0), (east, 99.0), (west, 99.0), (west, 0.0)]
    return [list(TO_UTM.transform(EAST + x, NORTH + y, direction="INVERSE")) for x, y in corners]


def test_every_fault_of_a_block_at_once(estate: "Estate") -> None:
    data = hill()
    data[cell(40.5, 39.5)] = 0.0
    data[:, 60:] += 15.0
    estate.ground(data)
    sentences, code = estate.refusal()
    assert code == Exit.BAD_INPUT
    assert ["exactly 0 m" in sentences[0], "rises or falls" in sentences[1]] == [True, True]


def test_spikes(estate: "Estate") -> None:
    data = hill()
    data[cell(50.5, 39.5)] += 2.5
    data[cell(60.5, 30.5)] -= 1.25
    estate.ground(data)
    code, sentence = warned(estate)
    assert code == "ground-spikes"
    found = re.fullmatch(
        r"2 cells stand off the ground on all sides, the worst (\d\.\d\d) m above it at (.*): bushes, "
        r"people or faults of the survey, and posts beside such get a wrong height; take them out of the raster, or "
        r"keep the places out \(block\.exclusions\)\.",
        sentence,
    )
    assert found, sentence
    assert float(found[1]) == pytest.approx(2.5, abs=0.03)
    assert found[2] == place(50.5, 39.5)


@pytest.mark.parametrize(
    ("step", "dtype", "words"),
    [
        # 1/sqrt(12) = 0.289 m; sqrt(6) 600/5 0.289 = 84.9 N; hypot(0.04, 0.289) = 0.2914.
        (1.0, "int16", "1 m, so each is off by 28.9 cm (one sigma), which is 85 N"),
        (0.1, "float32", "0.1 m, so each is off by 2.9 cm (one sigma), which is 8 N"),
    ],
)
def test_rounded_heights(estate: "Estate", step: float, dtype: str, words: str) -> None:
    estate.settings["elevation"]["accuracy_m"] = 0.04
    estate.settings["posts"] = {"max_span_m": 5.0}
    estate.ground((np.round(hill() / step) * step).astype(dtype))
    wire = '[[wires]]\nid = "a"\nkind = "fixed"\nheight_m = 1.0\ndiameter_mm = 2.5\ntension_n = 600.0\n'
    config = load_config(estate.config(estate.config().read_text() + wire))
    (finding,) = read_inputs(config).findings
    assert (finding.level, finding.code, finding.place) == ("warning", "ground-rounded", "B01")
    least = math.ceil(1000 * math.hypot(0.04, step / math.sqrt(12))) / 1000
    assert finding.message == (
        f"Heights are rounded to {words} on a clip of a wire at 600 N and spans of 5 m; take a raster of finer "
        f"heights, or set elevation.accuracy_m, now 0.04, to {least:g}."
    )


def test_centimetres_are_fine_enough(estate: "Estate") -> None:
    estate.ground(np.round(hill(), 2))
    assert estate.read().findings == ()


_VINES = (
    "a surface with vines in it, not bare ground; take the bare-earth raster of the survey, or have `wirerun survey` "
    "make one of it."
)


@pytest.mark.parametrize(
    ("height", "what"),
    [
        (0.6, _VINES),
        (0.14, "berms, young vines, or vines not wholly filtered out; see that it is bare ground."),
    ],
)
def test_ridges(estate: "Estate", height: float, what: str) -> None:
    """Ridges at a bearing of 62 degrees, 3.2 m apart, in cells of 1 m."""
    estate.settings["rows"]["spacing_m"] = 3.2
    x, y = metres()
    across = x * np.cos(np.radians(62.0)) - y * np.sin(np.radians(62.0))
    estate.ground((hill() + height / 2.0 * np.cos(2.0 * np.pi * across / 3.2)).astype(np.float32))
    code, sentence = warned(estate)
    assert code == "ground-ridges"
    found = re.fullmatch(
        r"Ridges (\d+) cm high lie (\d\.\d\d) m apart, as rows at rows\.spacing_m = 3\.2 m do, at a bearing of (\d+) "
        r"degrees, in (\d+) % of the block: (.*)",
        sentence,
    )
    assert found, sentence
    assert int(found[1]) == pytest.approx(100.0 * height, abs=2.0)
    assert float(found[2]) == pytest.approx(3.2, abs=0.03)
    # Grid north of the zone is 0.9 degrees off true north there.
    assert int(found[3]) == pytest.approx(62.9, abs=1.1)
    assert found[5] == what
