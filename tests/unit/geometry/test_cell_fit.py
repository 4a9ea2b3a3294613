"""The fitted way from a frame to a raster's cells against the projection itself, on rasters of every kind."""

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS, Transformer
from wirerun.geometry.cell_fit import CellFit
from wirerun.geometry.frame import Frame
from wirerun.geometry.places import PlaneXY

RNG = np.random.default_rng(3)
SIDE_M = 3000.0

# Each a CRS, and longitude and latitude of a block: in its middle and at its edge, along the grid and turned.
KINDS = [
    ("EPSG:25829", -7.6, 41.2),
    ("EPSG:25829", -5.0, 41.2),
    ("EPSG:4326", 10.0, 60.0),
    ("EPSG:3857", 10.0, 60.0),
    ("EPSG:2154", -1.0, 44.0),
    ("EPSG:2193", 174.0, -41.5),
]


def fit_of(code: str, lon: float, lat: float, turn_deg: float) -> tuple[CellFit, Transformer, Affine]:
    frame = Frame(lon, lat, 400.0)
    crs = CRS.from_user_input(code)
    to_raster = Transformer.from_crs(frame.crs, crs, always_xy=True)
    x, y = to_raster.transform(0.0, 0.0)
    cell = 1.0 / 111_000.0 if crs.is_geographic else 1.0
    shift = -SIDE_M / 2
    transform = Affine.translation(x, y) * Affine.rotation(turn_deg) * Affine.scale(cell, -cell)
    transform *= Affine.translation(shift, shift)
    from_raster = Transformer.from_crs(crs, frame.crs, always_xy=True)
    return CellFit(from_raster, transform, (int(SIDE_M), int(SIDE_M)), 1.0), to_raster, transform


@pytest.mark.parametrize(("code", "lon", "lat"), KINDS)
@pytest.mark.parametrize("turn_deg", [0.0, 20.0])
def test_as_projected(code: str, lon: float, lat: float, turn_deg: float) -> None:
    fit, to_raster, transform = fit_of(code, lon, lat, turn_deg)
    x, y = RNG.uniform(-1500.0, 1500.0, (2, 5000))
    wanted = ~transform * np.asarray(to_raster.transform(x, y))
    # In cells of about a metre: a hundredth of a millimetre.
    np.testing.assert_allclose(fit.cells(PlaneXY(x, y)), wanted, rtol=0.0, atol=1e-5)


def test_places_far_off_are_projected() -> None:
    """Of a cubic nothing is known beyond where it was fitted: 1000 km off it would be kilometres wrong."""
    fit, to_raster, transform = fit_of("EPSG:25829", -7.6, 41.2, 0.0)
    x, y = np.linspace(0.0, 1e6, 5000), np.zeros(5000)
    column, row = fit.cells(PlaneXY(x, y))
    wanted = ~transform * np.asarray(to_raster.transform(x, y))
    np.testing.assert_allclose((column, row), wanted, rtol=0.0, atol=1e-5)
    assert np.isnan(fit.cells(PlaneXY(np.full(5000, np.nan), y))[0]).all()


def test_where_a_cubic_will_not_do() -> None:
    """A block 600 km wide: the fit is off by more than a tenth of a millimetre, so every place is projected."""
    to_raster = Transformer.from_crs(Frame(-7.6, 41.2, 400.0).crs, "EPSG:25829", always_xy=True)
    x, y = to_raster.transform(0.0, 0.0)
    transform = Affine(200.0, 0.0, x - 3e5, 0.0, -200.0, y + 3e5)
    from_raster = Transformer.from_crs("EPSG:25829", Frame(-7.6, 41.2, 400.0).crs, always_xy=True)
    fit = CellFit(from_raster, transform, (3000, 3000), 200.0)
    x, y = RNG.uniform(-3e5, 3e5, (2, 5000))
    wanted = ~transform * np.asarray(to_raster.transform(x, y))
    np.testing.assert_array_equal(fit.cells(PlaneXY(x, y)), wanted)


def test_the_shape_is_kept() -> None:
    fit, *_ = fit_of("EPSG:25829", -7.6, 41.2, 0.0)
    places = PlaneXY(*RNG.uniform(-100.0, 100.0, (2, 60, 50)))
    column, row = fit.cells(places)
    assert column.shape == row.shape == (60, 50)
