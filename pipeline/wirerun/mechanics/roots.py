"""The two equations of one span that have no closed answer, solved for many spans at once.

A span is described by m and d (half the sum and half the difference of asinh of the wire's slope at its
ends), so that every equation is a product of plain functions of m and d. Nothing is a small difference of
large numbers, however taut the wire. Both solvers look at the upper end of the span: m >= 0.

Each hands back d and h = sinh m. The callers test the residual of the span's own equations.
"""

import numpy as np

from wirerun.arrays import BoolArray, FloatArray
from wirerun.errors import MechanicsError

_EPS = float(np.finfo(np.float64).eps)
_MOST_STEPS = 100


def sinh_cosh(half_turn: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sinh and cosh together, each with full relative accuracy, for one call of expm1.

    Parameters
    ----------
    half_turn : any shape, >= 0
        The argument. [-]

    Returns
    -------
    sinh, cosh : FloatArray
        Shape of the argument. [-]
    """
    grown = np.expm1(half_turn)
    shrunk = 1.0 / (grown + 1.0)
    sinh = 0.5 * grown * (1.0 + shrunk)
    return sinh, sinh + shrunk


def _end_tension_start(reach: FloatArray, slope: FloatArray, strain: FloatArray) -> FloatArray:
    """First d of the tension problem, shape (n,) [-]: never beyond the shallow root by more than it can bear.

    cosh(m + d) >= cosh(chord) and k cosh m sinh d <= strain d hold along the whole branch, so that
    d >= reach cosh(chord)/(1 + strain). For taut spans two rounds of the expanded equation come so near to
    the root that one Newton step is enough; there the deep root is far away and a hair too much does no harm.
    """
    cosh_chord = np.sqrt(1.0 + slope * slope)
    lean = slope / cosh_chord
    low = reach * cosh_chord / (1.0 + strain)
    near = np.minimum(low, 1.0)  # and so below: where it is not used it must not overflow
    for _ in range(2):
        turn = near - lean * near * near / 6.0
        end = cosh_chord * (1.0 + 0.5 * turn * turn) + slope * turn * (1.0 + turn * turn / 6.0)
        near = np.minimum(reach * end / (1.0 + strain * (1.0 - lean * near)), 1.0)
    return np.where(low < 0.05, near, low)


def _end_tension_step(
    d: FloatArray, h: FloatArray, reach: FloatArray, slope: FloatArray, strain: FloatArray, cap: float
) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
    """One Newton step of the tension problem: new d and h, which spans are done, which have no root."""
    sh, ch = sinh_cosh(d)

    # One round of h = slope (d + a sinh d)/(sinh d (1 + a cosh d)), a = k cosh m, which contracts by about
    # a d^2/3: it puts the point on the curve that has the right rise before d is moved along it.
    c = np.sqrt(1.0 + h * h)
    a = strain * c / (c * ch + h * sh)
    h = slope * (d + a * sh) / (sh * (1.0 + a * ch))

    c = np.sqrt(1.0 + h * h)
    per_end = 1.0 / (c * ch + h * sh)
    tanh_end = (h * ch + c * sh) * per_end
    a = strain * c * per_end
    v = 1.0 + a * ch
    width = d + a * sh
    a_d = -a * tanh_end
    a_m = a * (h / c - tanh_end)

    # f: the dx that comes out, less that wanted. g: the same for the rise. Their four derivatives:
    f = width * per_end - reach
    f_common = width * per_end * tanh_end
    f_d = (v + sh * a_d) * per_end - f_common
    f_m = sh * a_m * per_end - f_common
    g = h * sh * v - slope * width
    over = h * ch - slope
    g_d = over * (v + sh * a_d) + a * h * sh * sh
    per_g_m = 1.0 / (c * sh * v + sh * over * a_m)

    grade = f_d - f_m * g_d * per_g_m
    short = f - f_m * g * per_g_m
    at_root = np.abs(short) <= 4.0 * _EPS * reach
    # Left of the root f rises; where it falls and is still negative the top of the curve lies below the
    # dx that is wanted.
    rootless = (short < 0.0) & ((grade <= 0.0) | (d >= cap)) & ~at_root
    # Held to the size of the cap, so that a step from the very top is neither endless nor backwards.
    step = np.where(grade > 0.0, np.clip(-short / np.where(grade > 0.0, grade, 1.0), -cap, cap), 0.0)
    # Newton's next error is about step^2 times half the curvature over the grade.
    settled = at_root | ((step * step <= 1e-16 * d * grade / per_end) & ~rootless)
    moved = np.clip(d + step, 0.1 * d, cap)
    lean = -(g + g_d * (moved - d)) * per_g_m
    return moved, h + c * lean, settled, rootless


def solve_end_tension(
    reach: FloatArray,
    slope: FloatArray,
    strain: FloatArray,
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Half turn d, h = sinh m and a mask of spans without a root, for given tension at the upper end; shapes (n,).

    Solves (d + k cosh m sinh d)/cosh(m + d) = reach along the curve on which the chord has its slope,
    sinh m sinh d (1 + k cosh m cosh d) = slope (d + k cosh m sinh d), with k = strain/cosh(m + d).
    Along that curve the left side rises, bends down and falls: two roots, or none. Newton from the left
    climbs to the first, the shallow one, and cannot pass it. Where there is no root d and h are NaN.

    Parameters
    ----------
    reach : shape (n,), > 0
        w dx/(2 T), T the tension at the upper end. [-]
    slope : shape (n,), >= 0
        abs(rise)/dx. [-]
    strain : shape (n,), > 0
        T/EA. [-]

    Returns
    -------
    half_turn, lean : FloatArray
        d and h, shape (n,) each; NaN where there is no root. [-]
    rootless : BoolArray
        Spans that cannot hang at this tension, shape (n,).

    Raises
    ------
    MechanicsError
        If spans are left unsolved after the most steps allowed: a fault of the solver, not of the input.
    """
    half_turn, lean = np.full_like(reach, np.nan), np.full_like(reach, np.nan)
    lost = np.zeros(reach.shape, dtype=np.bool_)
    todo = np.arange(reach.size)
    # Beyond the top of the curve for every slope here, and short of overflow.
    cap = 3.0 + float(np.arcsinh(slope.max(initial=0.0)))
    d, h = np.minimum(_end_tension_start(reach, slope, strain), cap), slope
    for _ in range(_MOST_STEPS):
        if todo.size == 0:
            return half_turn, lean, lost
        d, h, settled, rootless = _end_tension_step(d, h, reach, slope, strain, cap)
        if settled.all():  # the usual end: saves sorting the finished from the rest
            half_turn[todo], lean[todo] = d, h
            return half_turn, lean, lost
        half_turn[todo[settled]], lean[todo[settled]] = d[settled], h[settled]
        lost[todo[rootless]] = True
        rest = ~(settled | rootless)
        todo, d, h = todo[rest], d[rest], h[rest]
        reach, slope, strain = reach[rest], slope[rest], strain[rest]
    message = f"The span solver left {todo.size} spans unsolved, the first at index {todo[0]}."
    raise MechanicsError(message)


def _length_start(dx: FloatArray, rise: FloatArray, stretch: FloatArray) -> FloatArray:
    """First d of the length problem, shape (n,) [-], good for taut wire and for deep bights.

    Expanded, the equation is the cubic d^3 u + (1 - b) d - b stretch = 0 with b = 1/chord and
    u = (dx/chord)^2/6, which has one positive root; a few steps of Newton from above reach it. A deep
    bight obeys sinh d/d = sqrt(1 - rise^2)/dx instead, whose root grows like a logarithm.
    """
    chord = np.hypot(dx, rise)
    excess = 1.0 / chord - 1.0
    u = (dx / chord) ** 2 / 6.0
    b_stretch = stretch / chord
    # Above the root: d^3 u <= 2 max(excess d, b stretch) there.
    d = np.maximum(np.sqrt(2.0 * np.maximum(excess, 0.0) / u), np.cbrt(2.0 * b_stretch / u))
    for _ in range(60):
        fall = (d * (d * d * u - excess) - b_stretch) / (3.0 * u * d * d - excess)
        d = d - fall
        if np.abs(fall / d).max() < 1e-3:
            break
    ratio = np.sqrt(np.maximum(1.0 - rise * rise, 0.0)) / dx
    bight = np.log1p(2.0 * ratio)
    return np.where(d > 1.0, np.maximum(1.0, np.minimum(d, bight + np.log1p(bight))), d)


def solve_length(dx: FloatArray, rise: FloatArray, stretch: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Half turn d and h = sinh m for a given unstretched length L0, slack or taut; shapes (n,).

    With H = w L0/(2 cosh m sinh d) the equations of dx and rise become
    dx/L0 = (d + s)/(cosh m sinh d) and rise/L0 = tanh m (1 + s coth d), s = w L0/(2 EA), and m drops out:
    (dx/L0 sinh d/(d + s))^2 + (rise/L0 /(1 + s coth d))^2 = 1. The left side grows with d from 0 without
    bound, so there is one root. Newton on its logarithm, held between bounds.

    Parameters
    ----------
    dx : shape (n,), > 0
        Horizontal distance over L0. [-]
    rise : shape (n,), >= 0
        Height over L0. [-]
    stretch : shape (n,), > 0
        w L0/(2 EA). [-]

    Returns
    -------
    half_turn, lean : FloatArray
        d and h, shape (n,) each. [-]
    """
    d = _length_start(dx, rise, stretch)
    low = np.zeros_like(d)
    high = 2.0 + 2.0 * np.log1p((1.0 + stretch) / dx)
    for _ in range(_MOST_STEPS):
        sh, ch = sinh_cosh(d)
        across = dx * sh / (d + stretch)
        full = sh + stretch * ch
        up = rise * sh / full
        square = across * across + up * up
        # Derivatives of the two terms; d/dd of sinh/(sinh + s cosh) is s/(sinh + s cosh)^2.
        grade = across * (dx * ch - across) / (d + stretch) + up * rise * stretch / (full * full)
        miss = 0.5 * (square - 1.0)
        low, high = np.where(miss < 0.0, d, low), np.where(miss > 0.0, d, high)
        step = miss / grade
        # Far from the root the logarithm of d is the better coordinate: it cannot turn negative.
        moved = np.where(np.abs(step) < 0.1 * d, d - step, d * np.exp(np.clip(-step / d, -2.0, 2.0)))
        # A bound itself is the answer where the last miss was rounding.
        moved = np.where((moved < low) | (moved > high), 0.5 * (low + high), moved)
        still = (np.abs(miss) > 2.0 * _EPS) & (np.abs(moved - d) > 2.0 * _EPS * d)
        d = np.where(np.abs(miss) > 2.0 * _EPS, moved, d)
        if not still.any():
            break
    sh, ch = sinh_cosh(d)
    cosh_lean = (d + stretch) / (dx * sh)
    return d, cosh_lean * rise * sh / (sh + stretch * ch)
