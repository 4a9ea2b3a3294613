"""Made-up vineyards as an orthophoto shows them: colours of leaves, grass and soil, and shadows; truth as the scene's.

Reflectances are choices of the usual order: leaves and grass dark in red and bright in near infrared, soil rising with
the wavelength.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter, shift
from survey_scenes import Scene, correlated

FloatArray = NDArray[np.float64]

# Red, green, blue, near infrared: share of the light that comes back.
SOIL = (0.26, 0.20, 0.14, 0.32)
LEAVES = (0.05, 0.10, 0.04, 0.48)
GRASS = (0.10, 0.14, 0.06, 0.38)
STRAW = (0.24, 0.21, 0.13, 0.34)


@dataclass(frozen=True)
class Light:
    """How a photo was taken: sun's height [deg] and bearing, how far off upright the camera looked, bands.

    `grass` is the share of the alleys that it covers; `grass_colour` and `leaf_colour` are reflectances.
    """

    sun_deg: float = 50.0
    sun_from_deg: float = 150.0
    aside_deg: float = 0.0
    bands: int = 3
    grass: float = 0.3
    grass_colour: tuple[float, ...] = GRASS
    leaf_colour: tuple[float, ...] = LEAVES
    fall_off: float = 0.1
    blur_m: float = 0.06


def photo_of(scene: Scene, light: Light, seed: int = 1) -> NDArray[np.uint8]:
    """Photo of a scene in its cells, [band, row, column]."""
    rng = np.random.default_rng(seed)
    shape, cell = scene.surface_m.shape, scene.cell_m
    cover = scene.surface_m - scene.ground_m
    leaf = cover > 0.35
    patches = gaussian_filter(rng.standard_normal(shape), 0.4 / cell)
    grass = patches > np.quantile(patches, 1.0 - light.grass) if light.grass else np.zeros(shape, dtype=bool)
    tint = 1.0 + 0.15 * correlated(shape, 1.0, 0.4, cell, seed + 1)
    colours = np.where(leaf, _of(light.leaf_colour), np.where(grass, _of(light.grass_colour), _of(SOIL))) * tint
    colours *= np.where(_shadow(scene, light), 0.4, 1.0)
    if light.aside_deg:
        # Laid on the ground and not on the leaves, these come to lie aside, away from the camera.
        by = 1.2 * np.tan(np.radians(light.aside_deg)) / cell
        moved = np.array([shift(np.where(leaf, band, np.nan), (0.0, by), order=0, cval=np.nan) for band in colours])
        bare = np.where(grass, _of(light.grass_colour), _of(SOIL)) * tint
        colours = np.where(np.isfinite(moved), moved, np.where(leaf, bare, colours))
    across = np.linspace(-0.5, 0.5, shape[1])[None, :]
    colours = np.array([gaussian_filter(band, light.blur_m / cell) for band in colours])
    colours = colours * (1.0 + light.fall_off * across) + rng.normal(0.0, 0.006, colours.shape)
    return np.clip(400.0 * colours[: light.bands], 1.0, 255.0).astype(np.uint8)


def _of(colour: tuple[float, ...]) -> FloatArray:
    return np.array(colour)[:, None, None]


def _shadow(scene: Scene, light: Light) -> NDArray[np.bool_]:
    """Cells that something between them and the sun shades."""
    height, bearing = np.radians(light.sun_deg), np.radians(light.sun_from_deg)
    shaded = np.zeros(scene.surface_m.shape, dtype=bool)
    for far in np.arange(1.0, 6.0 / np.tan(height) / scene.cell_m, 1.0):
        by = far * np.cos(bearing), -far * np.sin(bearing)
        moved = shift(scene.surface_m, by, order=0, cval=-1e9)
        shaded |= moved > scene.surface_m + far * scene.cell_m * np.tan(height) + 0.05
    return shaded
