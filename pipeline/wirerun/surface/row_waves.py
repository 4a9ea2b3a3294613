"""The rows of a planting as a wave: its direction and length, and one phase whose whole numbers are the rows.

Places are in cells of the canopy raster, x to the right and y down, the middle of the first cell at 0.
"""

import math
from collections.abc import Callable
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.fft import fft2
from scipy.ndimage import gaussian_filter

from wirerun.arrays import BoolArray, FloatArray
from wirerun.surface.block_canopy import BlockCanopy

# Choices by trials. Windows of so many metres, so far apart; how much of each lies in the block, and was seen there.
_WINDOW_M, _STEP_M, _LEAST_INSIDE, _LEAST_SEEN = 20.0, 8.0, 0.5, 0.25
# A window's peak stands out of the median of its ring by so much.
_LEAST_RATIO: Final = 12.0
_LEAST_WINDOWS: Final = 3
# Re-picked within this share of the spacing that most windows agree on.
_NEAR: Final = 0.2
_DEGREES: Final = (3, 5)
# Crests of every other row that are lower than this share of the others' are no rows but what grows between them.
_UNLIKE: Final = 0.7
_STRAIGHT: Final = 0.2  # of a spacing: bends that are less are none
_FOLDS: Final = 20
_MOST_SUMMED: Final = 400_000
# What keeps the memory of a large block down: windows (more lie farther apart), places that the phase is laid through,
# and cells that are worked on at once.
_MOST_WINDOWS: Final = 2_000
_MOST_PLACES: Final = 200_000
_AT_ONCE: Final = 200_000
_TRUNCATE: Final = 4.0  # sigmas that a Gaussian reaches


class RowWave(NamedTuple):
    """Rows as a wave.

    Attributes
    ----------
    coefficients, powers, centre, scale
        `phase` = sum of coefficient * x^i y^j, places less the centre over the scale; rows lie at its whole numbers.
    straight
        Whether the rows are straight and parallel.
    along
        Unit direction of the rows in the middle, (right, down).
    spacing_m
        From row to row, median. [m]
    turn_deg
        By how much their direction varies, 5 to 95 %; 0 where straight. [deg]
    """

    coefficients: FloatArray
    powers: NDArray[np.int64]
    centre: FloatArray
    scale: float
    straight: bool
    along: tuple[float, float]
    spacing_m: float
    turn_deg: float

    def phase(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Rows away from the first at places, shape as given."""
        return _phase(x, y, self.coefficients, self.powers, self.centre, self.scale)


def find_wave(canopy: BlockCanopy, cell_m: float, spacing_m: tuple[float, float]) -> RowWave | None:
    """The wave of a block's rows; None where there is none.

    Parameters
    ----------
    canopy : BlockCanopy
        What stands in the block.
    cell_m : float
        Side of a cell. [m]
    spacing_m : (float, float)
        Least and greatest spacing that is looked for. [m]
    """
    windows = _local_waves(canopy, cell_m, spacing_m)
    if windows is None:
        return None
    # What was not seen says nothing of how far apart or which way rows are.
    canopy = canopy.seen
    at, wave, weight = windows
    across = [np.count_nonzero(canopy.inside, axis=axis) for axis in (0, 1)]
    centre = np.array([np.arange(len(cells)) @ cells / cells.sum() for cells in across])
    scale = max(*(float(np.ptp(np.flatnonzero(cells))) for cells in across), 1.0) / 2.0
    powers = _powers(_DEGREES[0])
    fit = _fit_gradient(at, wave, weight, powers, centre, scale)
    fit, powers = _refined(canopy, fit, powers, centre, scale, cell_m / abs(np.median(np.abs(wave))))
    fit = _without_cover(canopy, fit, powers, centre, scale)
    return _described(canopy, fit, powers, centre, scale, cell_m)


def _local_waves(
    canopy: BlockCanopy, cell_m: float, spacing_m: tuple[float, float]
) -> tuple[FloatArray, FloatArray, FloatArray] | None:
    """Middles of windows (x, y), their wave vectors [1/cell], and weights; None where too few agree."""
    seen = canopy.seen.inside
    size = min(round(_WINDOW_M / cell_m), *canopy.shape)
    step = max(1, round(_STEP_M / cell_m), math.ceil(math.sqrt(canopy.count / _MOST_WINDOWS)))
    top, left = (np.arange(0, count - size + 1, step) for count in canopy.shape)
    a, b = (index.ravel() for index in np.meshgrid(top, left, indexing="ij"))
    within, share = (
        np.array([part[i : i + size, j : j + size].mean() for i, j in zip(a, b, strict=True)])
        for part in (canopy.inside, seen)
    )
    keep = (within >= _LEAST_INSIDE) & (share >= _LEAST_SEEN)
    a, b, share = a[keep], b[keep], share[keep]
    if len(a) < _LEAST_WINDOWS:
        return None
    hann = np.sin(np.pi * (np.arange(size) + 0.5) / size) ** 2
    taper = np.outer(hann, hann)
    frequency: FloatArray = np.fft.fftfreq(size).astype(np.float64)
    down, right = frequency[:, None], frequency[None, :]
    long = cell_m / np.maximum(np.hypot(down, right), 1e-9)
    half = (right > 0.0) | ((right == 0.0) & (down > 0.0))
    power = np.empty((len(a), size, size), dtype=np.float32)
    for start in range(0, len(a), 64):
        chunk = slice(start, start + 64)
        places = [(slice(i, i + size), slice(j, j + size)) for i, j in zip(a[chunk], b[chunk], strict=True)]
        tiles = np.stack([canopy.stature(*place) for place in places])
        there = np.stack([seen[place] for place in places])
        mean = (tiles * there * taper).sum(axis=(1, 2)) / np.maximum((there * taper).sum(axis=(1, 2)), 1e-9)
        power[chunk] = np.abs(fft2(np.where(there, tiles - mean[:, None, None], 0.0) * taper)) ** 2
    ring = half & (long >= spacing_m[0]) & (long <= spacing_m[1])
    picked = _picked(power, ring, frequency)
    if picked is None:
        return None
    wave, peak = picked
    # What most agree on, by strength; then each looks near it, so that none follows an overtone or a bush.
    usual = _weighted_median(cell_m / np.hypot(*wave.T), peak)
    near = half & (np.abs(np.log(long / usual)) <= np.log1p(_NEAR))
    again = _picked(power, near, frequency)
    if again is None:
        return None
    wave, peak = again
    in_ring = power[:, near]
    clear = power.reshape(len(power), -1)[:, near.ravel()].max(axis=1) > _LEAST_RATIO * np.median(in_ring, axis=1)
    if clear.sum() < _LEAST_WINDOWS:
        return None
    at = np.column_stack([b, a]) + (size - 1) / 2.0
    wave, weight, at = wave[clear], np.sqrt(peak[clear]) * share[clear], at[clear]
    # A wave and its opposite are one: all to the side of their mean direction.
    turn = np.sum(weight * np.exp(2j * np.angle(wave[:, 0] + 1j * wave[:, 1])))
    axis = np.exp(0.5j * np.angle(turn))
    wave = wave * np.sign(wave @ [axis.real, axis.imag])[:, None]
    return at, wave, weight


def _picked(power: NDArray[np.float32], ring: BoolArray, frequency: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """Strongest wave of each window in a ring (right, down) [1/cell], to a part of a bin; and its power."""
    at = np.flatnonzero(ring.ravel())
    if not at.size:
        return None
    best = at[power.reshape(len(power), -1)[:, at].argmax(axis=1)]
    size = len(frequency)
    row, column = np.divmod(best, size)
    tile = np.arange(len(power))
    peak = power[tile, row, column].astype(np.float64)
    wave = np.column_stack([frequency[column], frequency[row]])
    for axis, (dr, dc) in enumerate(((0, 1), (1, 0))):
        before = np.sqrt(power[tile, (row - dr) % size, (column - dc) % size])
        behind = np.sqrt(power[tile, (row + dr) % size, (column + dc) % size])
        bend = before - 2.0 * np.sqrt(peak) + behind
        wave[:, axis] += (
            np.where(bend < 0.0, 0.5 * (before - behind) / np.minimum(bend, -1e-12), 0.0).clip(-0.5, 0.5) / size
        )
    return wave, peak


def _fit_gradient(
    at: FloatArray, wave: FloatArray, weight: FloatArray, powers: NDArray[np.int64], centre: FloatArray, scale: float
) -> FloatArray:
    """Coefficients of the phase whose gradient is nearest to the local waves; without a constant."""
    u, v = ((at - centre) / scale).T
    i, j = powers.T
    slope_x = i * u[:, None] ** np.maximum(i - 1, 0) * v[:, None] ** j / scale
    slope_y = j * u[:, None] ** i * v[:, None] ** np.maximum(j - 1, 0) / scale
    basis, wanted = np.vstack([slope_x, slope_y]), np.concatenate(wave.T)
    trusted = np.concatenate([weight, weight]) / weight.max()
    # Few windows say little of bends: higher powers are held small.
    hold = 1e-3 * scale * np.diag((powers.sum(axis=1) > 1) * 1.0) / max(len(at), 1)
    fit = np.zeros(len(powers))
    for _ in range(8):
        fit = np.linalg.lstsq(
            np.vstack([basis * trusted[:, None], hold / scale]),
            np.concatenate([wanted * trusted, np.zeros(len(hold))]),
            rcond=None,
        )[0]
        off = np.hypot(*(basis @ fit - wanted).reshape(2, -1))
        sigma = 1.4826 * float(np.median(off)) + 1e-9
        robust = 1.0 / (1.0 + (off / (3.0 * sigma)) ** 2)
        trusted = np.tile(weight / weight.max() * robust, 2)
    fit[powers.sum(axis=1) == 0] = 0.0
    return np.asarray(fit)


def _refined(
    canopy: BlockCanopy,
    fit: FloatArray,
    powers: NDArray[np.int64],
    centre: FloatArray,
    scale: float,
    spacing_cells: float,
) -> tuple[FloatArray, NDArray[np.int64]]:
    """The phase, laid on the rows themselves: what is left of it is seen where the wave is taken out of the canopy."""
    more = _powers(_DEGREES[1])
    wider = np.zeros(len(more))
    wider[[int(np.flatnonzero((more == power).all(axis=1))[0]) for power in powers]] = fit
    # Six cells a wave will do.
    join = max(1, int(spacing_cells / 6.0))
    spacing = spacing_cells / join
    wave, within = _without_mean(canopy, join, 2.0 * spacing)
    y, x = (index * join + (join - 1) / 2.0 for index in np.ogrid[: within.shape[0], : within.shape[1]])
    terms_at = max(1, round(spacing / 4.0), math.ceil(math.sqrt(np.count_nonzero(within) / _MOST_PLACES)))
    thin = within[::terms_at, ::terms_at]
    rows, columns = np.nonzero(thin)
    terms = _terms(x[0, ::terms_at][columns], y[::terms_at, 0][rows], more, centre, scale)
    degree = more.sum(axis=1)
    for most, wide in ((0, 3.0), (1, 3.0), (2, 2.5), (3, 2.0), (3, 2.0), (5, 1.5), (5, 1.5)):

        def turned(strip: slice) -> NDArray[np.complex128]:
            phase = _phase(x, y[strip], wider, more, centre, scale)
            return np.asarray(wave[strip] * np.exp(-2j * np.pi * phase))

        left = _smoothed(turned, within.shape, wide * spacing, terms_at)[thin]
        if most == 0:
            wider[degree == 0] += np.angle(left.sum()) / (2.0 * np.pi)
            continue
        off = np.angle(left) / (2.0 * np.pi)
        known, strength = degree <= most, np.abs(left)
        # Where it is half a row off, nobody knows which way.
        trusted = strength * np.clip(1.0 - (off / 0.5) ** 2, 0.0, 1.0)
        basis = terms[:, known] * trusted[:, None]
        gain = np.linalg.lstsq(
            np.vstack([basis, 1e-3 * trusted.max() * np.diag(degree[known] > 1)]),
            np.concatenate([off * trusted, np.zeros(int(known.sum()))]),
            rcond=None,
        )[0]
        wider[known] += gain
    return wider, more


def _without_mean(canopy: BlockCanopy, join: int, sigma_cells: float) -> tuple[NDArray[np.float32], BoolArray]:
    """Joined cells of the canopy less their mean round about, 0 outside the block; and which lie in it."""
    shape = canopy.shape[0] // join, canopy.shape[1] // join
    joined, share = np.empty(shape, dtype=np.float32), np.empty(shape, dtype=np.float32)
    columns = slice(0, shape[1] * join)
    for strip in canopy.strips(join):
        rows = slice(strip.start, strip.stop // join * join)
        here = slice(rows.start // join, rows.stop // join)
        cells = (here.stop - here.start, join, shape[1], join)
        for made, part in ((joined, canopy.stature(rows, columns)), (share, canopy.inside[rows, columns])):
            made[here] = part.reshape(cells).mean(axis=(1, 3))
    within = share > 0.5
    mean = gaussian_filter(joined, sigma_cells)
    mean /= np.maximum(gaussian_filter(share, sigma_cells, output=share), 1e-6, out=share)
    joined -= mean
    joined[~within] = 0.0
    return joined, np.asarray(within)


def _smoothed(
    values: Callable[[slice], NDArray[np.complex128]], shape: tuple[int, ...], sigma_cells: float, step: int
) -> NDArray[np.complex128]:
    """Gaussian mean of values that are made strip of rows by strip, at every so many-th row and column."""
    # As far as the filter looks, so that strips change nothing.
    margin = int(_TRUNCATE * sigma_cells + 0.5)
    high = max(1, max(_AT_ONCE // max(1, shape[1]), 2 * margin) // step) * step
    made = []
    for top in range(0, shape[0], high):
        strip = slice(max(0, top - margin), min(shape[0], top + high + margin))
        turned = values(strip)
        real, imaginary = (
            gaussian_filter(part, sigma_cells, truncate=_TRUNCATE) for part in (turned.real, turned.imag)
        )
        inner = slice(top - strip.start, min(top + high, shape[0]) - strip.start, step)
        made.append(real[inner, ::step] + 1j * imaginary[inner, ::step])
    return np.concatenate(made)


def _without_cover(
    canopy: BlockCanopy, fit: FloatArray, powers: NDArray[np.int64], centre: FloatArray, scale: float
) -> FloatArray:
    """The phase of rows alone where every other crest is what grows in the alleys: half of it."""
    rows, columns = canopy.thinned(max(1, canopy.count // _MOST_SUMMED))
    phase = _phase(columns.astype(float), rows.astype(float), fit, powers, centre, scale)
    fold = np.floor(np.mod(phase + 0.25, 2.0) * _FOLDS / 2.0).astype(np.int64)
    height = np.bincount(fold, canopy.stature(rows, columns), _FOLDS) / np.maximum(
        np.bincount(fold, minlength=_FOLDS), 1
    )
    half = _FOLDS // 2
    crests = height[: half // 2].max(), height[half : half + half // 2].max()
    if min(crests) > _UNLIKE * max(crests):
        return fit
    halved = fit / 2.0
    if crests[1] > crests[0]:
        halved = halved - 0.5 * (powers.sum(axis=1) == 0)
    return np.asarray(halved)


def _described(
    canopy: BlockCanopy,
    fit: FloatArray,
    powers: NDArray[np.int64],
    centre: FloatArray,
    scale: float,
    cell_m: float,
) -> RowWave:
    """The wave with direction and spacing; those of straight rows by the exact spectrum of all cells at once."""
    rows, columns = canopy.thinned(max(1, canopy.count // _MOST_SUMMED))
    x, y = columns.astype(float), rows.astype(float)
    phase = _phase(x, y, fit, powers, centre, scale)
    plane = np.column_stack([np.ones(len(x)), x - centre[0], y - centre[1]])
    level = np.linalg.lstsq(plane, phase, rcond=None)[0]
    straight = bool(np.quantile(np.abs(phase - plane @ level), 0.98) < _STRAIGHT)
    if straight:
        wave = _exact(canopy.stature(rows, columns), x - centre[0], y - centre[1], level[1:])
        gradient = wave[None, :]
    else:
        gradient = _gradient(x[::97], y[::97], fit, powers, centre, scale)
        wave = _gradient(centre[:1], centre[1:], fit, powers, centre, scale)[0]
    angle = np.degrees(np.angle((gradient[:, 0] + 1j * gradient[:, 1]) / (wave[0] + 1j * wave[1])))
    turn = 0.0 if straight else float(np.ptp(np.quantile(angle, [0.05, 0.95])))
    length = float(np.hypot(*wave))
    spacing = cell_m / float(np.median(np.hypot(*gradient.T)))
    return RowWave(
        fit, powers, centre, scale, straight, (-float(wave[1]) / length, float(wave[0]) / length), spacing, turn
    )


def _exact(presence: FloatArray, x: FloatArray, y: FloatArray, start: FloatArray) -> FloatArray:
    """Wave vector with the greatest Fourier sum over all cells, from one close to it [1/cell]."""
    wave = presence - presence.mean()

    def less(k: FloatArray) -> float:
        return -float(np.abs(np.sum(wave * np.exp(-2j * np.pi * (k[0] * x + k[1] * y)))))

    size = max(float(np.ptp(x)), float(np.ptp(y)))
    simplex = start + np.array([[0.0, 0.0], [0.2 / size, 0.0], [0.0, 0.2 / size]])
    from scipy.optimize import minimize  # noqa: PLC0415 - slow to import, and seldom wanted

    done = minimize(
        less, start, method="Nelder-Mead", options={"initial_simplex": simplex, "xatol": 1e-8, "maxiter": 200}
    )
    return np.asarray(done.x)


def _gradient(
    x: FloatArray, y: FloatArray, fit: FloatArray, powers: NDArray[np.int64], centre: FloatArray, scale: float
) -> FloatArray:
    u, v = (x - centre[0]) / scale, (y - centre[1]) / scale
    i, j = powers.T
    slope_x = (i * u[:, None] ** np.maximum(i - 1, 0) * v[:, None] ** j) @ fit / scale
    slope_y = (j * u[:, None] ** i * v[:, None] ** np.maximum(j - 1, 0)) @ fit / scale
    return np.column_stack([slope_x, slope_y])


def _terms(x: FloatArray, y: FloatArray, powers: NDArray[np.int64], centre: FloatArray, scale: float) -> FloatArray:
    u, v = (np.asarray(x) - centre[0]) / scale, (np.asarray(y) - centre[1]) / scale
    most = int(powers.max())
    across, down = [np.ones_like(u)], [np.ones_like(v)]
    for _ in range(most):
        across.append(across[-1] * u)
        down.append(down[-1] * v)
    return np.stack([across[i] * down[j] for i, j in powers], axis=-1)


def _phase(
    x: FloatArray, y: FloatArray, fit: FloatArray, powers: NDArray[np.int64], centre: FloatArray, scale: float
) -> FloatArray:
    """The phase at places, which broadcast; strip by strip, so that its terms never stand in memory all at once."""
    shape = np.broadcast_shapes(x.shape, y.shape)
    x, y = np.broadcast_to(x, shape), np.broadcast_to(y, shape)
    made = np.empty(shape)
    step = max(1, _AT_ONCE // max(1, math.prod(shape[1:])))
    for start in range(0, shape[0], step):
        strip = slice(start, start + step)
        made[strip] = _terms(x[strip], y[strip], powers, centre, scale) @ fit
    return made


def _powers(degree: int) -> NDArray[np.int64]:
    return np.array([(i, total - i) for total in range(degree + 1) for i in range(total + 1)])


def _weighted_median(values: FloatArray, weight: FloatArray) -> float:
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2.0)])
