"""Published values about the ground: geodesics, grids against the ground, rows per hectare."""

import numpy as np
import pytest
from geographiclib.geodesic import Geodesic
from pyproj import Geod, Transformer
from shapely import box
from wirerun.geometry.frame import Frame
from wirerun.geometry.lines import cut_lines
from wirerun.geometry.places import LonLat

GEOD = Geod(ellps="WGS84")


def dms(degrees: int, minutes: int, seconds: float) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


FLINDERS = (dms(144, 25, 29.52440), -dms(37, 57, 3.72030))
BUNINYONG = (dms(143, 55, 35.38390), -dms(37, 39, 10.15610))


def test_the_geodesic_we_check_against_is_the_published_one() -> None:
    """Source: ICSM GDA2020 Technical Manual, worked example (quoted in Geoscience Australia's tests)."""
    forward, back, distance = Geod(ellps="GRS80").inv(*FLINDERS, *BUNINYONG)
    assert distance == pytest.approx(54972.271, abs=1e-3)
    assert forward % 360.0 == pytest.approx(dms(306, 52, 5.37), abs=0.01 / 3600)
    assert back % 360.0 == pytest.approx(dms(127, 10, 25.07), abs=0.01 / 3600)


def test_measuring_in_a_zone_grid_is_wrong_and_in_the_frame_it_is_not() -> None:
    """Source: as above: MGA zone 55 coordinates and grid distance 54 992.279 m, 20 m more than the ground's."""
    zone = Transformer.from_crs("EPSG:7844", "EPSG:7855", always_xy=True)
    ends = np.array([zone.transform(*FLINDERS), zone.transform(*BUNINYONG)])
    np.testing.assert_allclose(ends, [(273741.297, 5796489.777), (228854.052, 5828259.038)], atol=1e-3)
    assert np.hypot(*(ends[1] - ends[0])) == pytest.approx(54992.279, abs=1e-3)
    # 200 m on from the first point, as long as a row: the grid is 36 mm in 100 m too long, the frame is not.
    lon, lat, _ = GEOD.fwd(*FLINDERS, 306.868, 200.0)
    in_zone = np.hypot(*(np.array(zone.transform(lon, lat)) - ends[0]))
    plane = Frame(144.425, -37.951, 0.0).to_plane(LonLat(np.array([FLINDERS[0], lon]), np.array([FLINDERS[1], lat])))
    x, y = plane.x_m, plane.y_m
    assert in_zone - 200.0 > 0.04
    assert np.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(200.0, abs=1e-4)


def test_two_geodesic_libraries_agree_on_a_published_line() -> None:
    """Source: geographiclib's tests (Karney): 8 935 244.5604818305 m; pyproj has its own port."""
    line = (35.60777, -139.44815, -11.17491, -69.95921)
    assert Geodesic.WGS84.Inverse(*line)["s12"] == pytest.approx(8935244.5604818305, abs=1e-8)
    assert GEOD.inv(line[1], line[0], line[3], line[2])[2] == pytest.approx(8935244.5604818305, abs=1e-6)


@pytest.mark.parametrize("lat", [-70.0, -38.0, 3.0, 47.0, 70.0])
def test_the_frame_agrees_with_a_second_geodesic_library(lat: float) -> None:
    """On the ellipsoid, against geographiclib (Karney's own): frame at height 0."""
    frame = Frame(10.0, lat, 0.0)
    there = Geodesic.WGS84.Direct(lat + 0.002, 10.003, 62.0, 150.0)
    plane = frame.to_plane(LonLat(np.array([10.003, there["lon2"]]), np.array([lat + 0.002, there["lat2"]])))
    x, y = plane.x_m, plane.y_m
    assert np.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(150.0, abs=1e-4)


def test_row_metres_per_hectare() -> None:
    """10 000 / spacing: 4166.7 m of row per hectare at 2.4 m, on 1000 rows so that no edge effect remains."""
    across = np.linspace(1.2, 2398.8, 1000)
    pieces = cut_lines(box(0.0, 0.0, 2400.0, 300.0), across, 0.0)
    assert (pieces.end_m - pieces.start_m).sum() / (2400.0 * 300.0 / 1e4) == pytest.approx(4166.7, abs=0.05)


def test_vines_per_acre() -> None:
    """Source: Iowa State University, Cost of Establishing a Vineyard: 7 ft by 9 ft are 691 vines an acre."""
    foot, acre = 0.3048, 4046.8564224
    across = np.linspace(4.5 * foot, 895.5 * foot, 100)
    pieces = cut_lines(box(0.0, 0.0, 900.0 * foot, 700.0 * foot), across, 0.0)
    vines = (pieces.end_m - pieces.start_m).sum() / (7.0 * foot)
    assert vines / (900.0 * 700.0 * foot**2 / acre) == pytest.approx(691.0, abs=0.5)
