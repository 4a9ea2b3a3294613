"""The local frame against geodesics on the ellipsoid."""

import numpy as np
import pytest
import shapely
from pyproj import Geod
from wirerun.geometry.frame import Frame, direction, mean_radius
from wirerun.geometry.places import LonLat

GEOD = Geod(ellps="WGS84")


@pytest.mark.parametrize("lat", [-70.0, -33.4, 0.0, 41.2, 70.0])
@pytest.mark.parametrize("height_m", [0.0, 350.0, 1800.0, 3000.0])
@pytest.mark.parametrize("azimuth", [0.0, 62.0, 135.0, 270.0])
def test_plane_distance_is_geodesic_at_ground_height(lat: float, height_m: float, azimuth: float) -> None:
    """Source: geodesic by pyproj.Geod (Karney 2013), carried to the height by the radius in its direction (Euler)."""
    frame = Frame(12.345, lat, height_m)
    # A line of 100 m that starts 700 m off the centre.
    lon0, lat0, _ = GEOD.fwd(frame.lon, frame.lat, 20.0, 700.0)
    lon1, lat1, _ = GEOD.fwd(lon0, lat0, azimuth, 100.0)
    plane = frame.to_plane(LonLat(np.array([lon0, lon1]), np.array([lat0, lat1])))
    x, y = plane.x_m, plane.y_m
    sin2 = np.sin(np.radians(lat)) ** 2
    prime = GEOD.a / np.sqrt(1 - GEOD.es * sin2)
    meridian = GEOD.a * (1 - GEOD.es) / (1 - GEOD.es * sin2) ** 1.5
    angle = np.radians(azimuth)
    radius = 1.0 / (np.cos(angle) ** 2 / meridian + np.sin(angle) ** 2 / prime)
    on_ground = 100.0 * (1.0 + height_m / radius)
    assert np.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(on_ground, abs=5e-4)
    bearing = np.degrees(np.arctan2(x[1] - x[0], y[1] - y[0])) % 360.0
    assert (bearing - azimuth + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=0.02)


def test_a_frame_lies_over_the_middle_of_its_area() -> None:
    """From 7.812 to 7.800 W and 41.18 to 41.192 N, an L of which the middle is no part."""
    area = shapely.box(-7.812, 41.18, -7.80, 41.183) | shapely.box(-7.812, 41.18, -7.81, 41.192)
    frame = Frame.over(area, 300.0)
    assert (frame.lon, frame.lat, frame.height_m) == (-7.806, 41.186, 300.0)


def test_there_and_back_is_the_same_place() -> None:
    frame = Frame(-7.6, 41.2, 350.0)
    there = LonLat(np.array([-7.61, -7.59]), np.array([41.195, 41.205]))
    np.testing.assert_allclose(frame.to_lonlat(frame.to_plane(there)).stacked(), there.stacked(), atol=1e-12)


def test_mean_radius_lies_between_the_principal_radii() -> None:
    """WGS 84 at the equator: prime vertical a = 6 378 137 m, meridian a (1 - e2) with 1/f = 298.257 223 563."""
    assert mean_radius(0.0) == pytest.approx(np.sqrt(6335439.327 * 6378137.0), abs=1.0)


def test_directions_turn_clockwise_from_north() -> None:
    assert direction(0.0) == pytest.approx((0.0, 1.0))
    assert direction(90.0) == pytest.approx((1.0, 0.0))
    assert direction(225.0) == pytest.approx((-np.sqrt(0.5), -np.sqrt(0.5)))
