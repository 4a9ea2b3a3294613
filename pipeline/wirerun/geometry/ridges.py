"""Ridges at the rows' spacing in a height raster: a surface with vines in it, or their berms, given as ground.

Tiles of eight spacings a side, each less its best quadratic, under a Hann window; the two-dimensional spectrum of each
has a peak where ridges run through it.
"""

from functools import lru_cache
from typing import Final, NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.fft import fft2

from wirerun.arrays import BoolArray, FloatArray
from wirerun.geometry.bad_cells import Heights

# Choices. A tile holds so many ridges; more tiles than these are looked at here and there.
_RIDGES_A_TILE: Final = 8
_MOST_TILES: Final = 300
_BATCH_CELLS: Final = 1_000_000
_LEAST_INSIDE: Final = 0.6
_LEAST_VALID: Final = 0.95
# Cells may be no larger than this share of the spacing, and are joined where they are smaller than that one.
_COARSEST, _FINEST = 1.0 / 3.0, 1.0 / 12.0
# What stands off by more is a wall, a tree or a hole. [m]
_CLIP_M: Final = 1.0
# The spacing found is within this share of the rows'; looked for a little farther off.
_SEARCHED, _NEAR = 0.25, 0.15
# By trials: bare ground of lidar surveys has crests up to 0.07 m over the troughs at these spacings, berms and young
# vines 0.09 to 0.20 m, vines more. A tile's peak stands out of the median of its ring by this factor or more.
LEAST_HEIGHT_M: Final = 0.09
_LEAST_RATIO: Final = 30.0
# So many of the tiles, so much of one direction, 1 being one and the same, and of one spacing to this share, in the
# middle. By trials, rows with gaps and noise keep theirs to 0.8 %, bumps that are longer one way than the other to 5 %.
_LEAST_SHARE, _LEAST_COHERENCE, _MOST_SPREAD = 0.3, 0.9, 0.02
_LEAST_TILES: Final = 2


class Ridges(NamedTuple):
    """Ridges found.

    Attributes
    ----------
    height_m : float
        Crest over trough, of the plain wave that fits best; median of the tiles that have ridges. [m]
    spacing_m : float
        From ridge to ridge. [m]
    along : tuple of float
        Direction of the ridges: steps to the right and down the raster, in metres, of length 1.
    share : float
        Of the tiles, those that have ridges.
    coherence : float
        How far they agree on the direction, 0 to 1.
    """

    height_m: float
    spacing_m: float
    along: tuple[float, float]
    share: float
    coherence: float


def find_ridges(
    heights_m: Heights, valid: BoolArray, ground: BoolArray, sides_m: tuple[float, float], spacing_m: float
) -> Ridges | None:
    """Ridges at the rows' spacing in whatever direction; None where there are none, or cells are too coarse to tell.

    The tiles must agree on direction and spacing. The peak of a tile counts where it stands out of all waves of about
    its length, is as high as ridges are, and is no overtone: terraces of five metres have waves of a half and a third
    of that, too, but a stronger one of five.

    Parameters
    ----------
    heights_m, valid, ground : shape (rows, columns)
        Heights [m], which of them are any, and which are looked at.
    sides_m : tuple of float
        Width and height of a cell. [m]
    spacing_m : float
        Distance between the rows. [m]
    """
    if max(sides_m) > spacing_m * _COARSEST * (1.0 + 1e-6):
        return None
    cells = tuple(max(4, round(_RIDGES_A_TILE * spacing_m / side)) for side in (sides_m[1], sides_m[0]))
    corners = _tiles(ground, cells)
    if len(corners) < _LEAST_TILES:
        return None
    join = max(1, int(min(cells) / (_RIDGES_A_TILE / _FINEST)))
    shape = cells[0] // join, cells[1] // join
    sides = sides_m[1] * join, sides_m[0] * join
    batch = max(1, _BATCH_CELLS // (cells[0] * cells[1]))
    tiles = np.concatenate(
        [_cut(heights_m, valid, corners[at : at + batch], shape, join) for at in range(0, len(corners), batch)]
    )
    if len(tiles) < _LEAST_TILES:
        return None
    peaks = _peaks(_power(tiles), shape, sides, spacing_m)
    ridged = peaks.is_ridge
    share = float(ridged.mean())
    if ridged.sum() < _LEAST_TILES or share < _LEAST_SHARE:
        return None
    wave = peaks.wave[ridged]
    apart = 1.0 / np.abs(wave)
    turn = np.mean(np.exp(2j * np.angle(wave)))
    if abs(turn) < _LEAST_COHERENCE or np.median(np.abs(apart / np.median(apart) - 1.0)) > _MOST_SPREAD:
        return None
    across = np.exp(0.5j * np.angle(turn))
    along = across * 1j
    return Ridges(
        float(np.median(peaks.height_m[ridged])),
        float(np.median(apart)),
        (float(along.real), float(along.imag)),
        share,
        float(abs(turn)),
    )


def _tiles(ground: BoolArray, cells: tuple[int, ...]) -> NDArray[np.intp]:
    """First rows and columns of tiles that lie in the ground for the most part, each half a tile on, shape (n, 2)."""
    half = max(1, cells[0] // 2), max(1, cells[1] // 2)
    rows, columns = ground.shape[0] // half[0], ground.shape[1] // half[1]
    if rows < 2 or columns < 2:
        return np.zeros((0, 2), dtype=np.intp)
    whole = ground[: rows * half[0], : columns * half[1]]
    count = whole.reshape(rows, half[0], columns, half[1]).sum(axis=(1, 3), dtype=np.int64)
    four = count[:-1, :-1] + count[1:, :-1] + count[:-1, 1:] + count[1:, 1:]
    corners = np.argwhere(four >= _LEAST_INSIDE * 4 * half[0] * half[1]) * half
    corners = corners[(corners + cells <= ground.shape).all(axis=1)]
    return np.asarray(corners[:: max(1, -(-len(corners) // _MOST_TILES))])


def _cut(
    heights_m: Heights, valid: BoolArray, corners: NDArray[np.intp], shape: tuple[int, int], join: int
) -> FloatArray:
    """Tiles less their best quadratic, fine cells joined, shape (tiles, rows, columns); those with many holes not."""
    size = shape[0] * join, shape[1] * join
    row, column = corners.T
    there = sliding_window_view(valid, size)[row, column]
    good = there.mean(axis=(1, 2)) >= _LEAST_VALID
    there, cells = there[good], sliding_window_view(heights_m, size)[row[good], column[good]]
    level = cells.sum(axis=(1, 2), dtype=np.float64) / np.maximum(there.sum(axis=(1, 2)), 1)  # what is missing is 0
    tiles = cells - level[:, None, None]
    tiles[~there] = 0.0
    if join > 1:
        # First down, then across by a product: several times as fast as both at once.
        tiles = tiles.reshape(len(tiles), shape[0], join, size[1]).sum(axis=2).reshape(len(tiles), *shape, join)
        tiles = tiles @ np.full(join, 1.0 / join**2)
        there = there.reshape(len(tiles), shape[0], join, size[1]).all(axis=2).reshape(*tiles.shape, join).all(axis=3)
    basis, inverse = _quadratic(shape)
    flat = tiles.reshape(len(tiles), -1)
    for _ in range(1 if there.all() else 4):
        # Cells without a height take that of the fit, which settles within a few rounds.
        fit = (flat @ inverse.T) @ basis.T
        flat = np.where(there.reshape(flat.shape), flat, fit)
    return np.asarray(np.clip(flat - fit, -_CLIP_M, _CLIP_M).reshape(tiles.shape))


@lru_cache(maxsize=1)
def _quadratic(shape: tuple[int, int]) -> tuple[FloatArray, FloatArray]:
    """Values of the terms of a quadratic over a tile, [cell, term], and their pseudo-inverse."""
    y, x = np.meshgrid(*(np.linspace(-1.0, 1.0, count) for count in shape), indexing="ij")
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1).reshape(-1, 6)
    return basis, np.linalg.pinv(basis)


def _power(tiles: FloatArray) -> FloatArray:
    """Squared half amplitude of the plain waves in each tile, [tile, cycles down, cycles right] [m2].

    A wave A sin(k x) has A^2/4 at k and at -k, each spread by the window over the bins within two of it.
    """
    rows, columns = tiles.shape[1:]
    window = np.outer(_hann(rows), _hann(columns))
    return np.asarray(np.abs(fft2(tiles * window)) ** 2 / (tiles[0].size * (window**2).sum()))


def _hann(count: int) -> FloatArray:
    return np.asarray(np.sin(np.pi * (np.arange(count) + 0.5) / count) ** 2)


class _Peaks(NamedTuple):
    """The strongest wave of each tile: its wave vector, right + down i [1/m]; height; whether it is of ridges."""

    wave: NDArray[np.complex128]
    height_m: FloatArray
    is_ridge: BoolArray


def _peaks(power: FloatArray, shape: tuple[int, int], sides: tuple[float, float], spacing_m: float) -> _Peaks:
    """Find the strongest wave of about the spacing's length in each tile."""
    down, right = (np.fft.fftfreq(count, side) for count, side in zip(shape, sides, strict=True))
    long = 1.0 / np.maximum(np.hypot(down[:, None], right), 1e-9)
    half = (right > 0.0) | ((right == 0.0) & (down[:, None] > 0.0))
    ring = half & (np.abs(np.log(long / spacing_m)) <= np.log1p(_SEARCHED))
    at_down, at_right = np.nonzero(ring)
    in_ring = power[:, at_down, at_right]
    best = in_ring.argmax(axis=1)
    tile = np.arange(len(power))
    centre = np.stack([at_down[best], at_right[best]], axis=-1)
    # All that the window spread: five bins by five round the peak, less what would be there anyhow.
    step = np.arange(-2, 3)
    rows = (centre[:, 0, None, None] + step[:, None]) % shape[0]
    columns = (centre[:, 1, None, None] + step) % shape[1]
    near = power[tile[:, None, None], rows, columns]
    usual = np.median(in_ring, axis=1)
    near = np.maximum(near - usual[:, None, None] / np.log(2.0), 0.0)
    energy = near.sum(axis=(1, 2))
    some = np.maximum(energy, np.finfo(np.float64).tiny)
    # Wave numbers of the bins round the peak, going on beyond the highest: a ridge may lie close to it.
    k_down, k_right = down[centre[:, 0]], right[centre[:, 1]]
    k_down = k_down + (near.sum(axis=2) @ step) / some / (shape[0] * sides[0])
    k_right = k_right + (near.sum(axis=1) @ step) / some / (shape[1] * sides[1])
    wave = k_right + 1j * k_down
    height = 4.0 * np.sqrt(energy)
    peak = in_ring[tile, best]
    found_m = 1.0 / np.maximum(np.abs(wave), 1e-9)
    is_ridge = (
        (height >= LEAST_HEIGHT_M)
        & (peak >= _LEAST_RATIO * usual)
        & (np.abs(found_m / spacing_m - 1.0) <= _NEAR)
        & (_longer_waves(power, centre, shape) < peak)
    )
    return _Peaks(wave, height, np.asarray(is_ridge))


def _longer_waves(power: FloatArray, centre: NDArray[np.intp], shape: tuple[int, int]) -> FloatArray:
    """Strongest of the longer waves that run the same way as the peak, from 1.4 to 4 times its length, per tile."""
    size = np.array(shape)
    signed = np.where(centre > size // 2, centre - size, centre)
    part = np.linspace(0.25, 0.72, 16)
    at = np.round(signed[:, None, :] * part[:, None]).astype(np.intp) % size
    return np.asarray(power[np.arange(len(power))[:, None], at[..., 0], at[..., 1]].max(axis=1))
