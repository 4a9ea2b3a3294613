"""A wire with more on it than itself: a crop that bears down, wind that pushes to the side.

Spread evenly along the wire, the loads and its own weight make one force a metre, R = hypot(w + down, side), that
leans from the plumb by beta = atan(side/(w + down)). A wire bears it as it bears its weight, in a plane that leans as
much: so it is the chain of `chain` again, with R for the weight. Seen along the force a support lies z cos(beta) high,
and a span of run a and rise b has the run hypot(a, b sin(beta)); its chord stays. One change of state leads there from
the length that was strung: the tension at the lowest support is the only unknown of a row, as in `season`.

The forces at the supports are then taken apart again: down, to the side, and along the row. On level ground they are
(w + down) l and side l, whatever the tension.

References
----------
The change of state is that of overhead lines under ice and wind, as tests of the library mechaphlowers and the sheet
"Calculations Sag Tension Line" (scribd.com, 681038340) have it: see tests/published.
"""

from dataclasses import dataclass

import numpy as np

from wirerun.arrays import BoolArray, FloatArray, FloatLike
from wirerun.mechanics.give import Give
from wirerun.mechanics.refusals import require_non_negative
from wirerun.mechanics.season import chain_at_length
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.wire import Wire


@dataclass(frozen=True, slots=True, eq=False)
class Loaded:
    """Wires of many rows under loads; rows without an answer are NaN throughout.

    Attributes
    ----------
    tension_n : FloatArray
        Tension at each support, shape (n_supports,). [N]
    down_n : FloatArray
        What the wire bears down on each support, negative where it pulls up; at the ends of one span only. Shape
        (n_supports,). [N]
    side_n : FloatArray
        What it pushes each support to the side that the load goes to, shape (n_supports,). [N]
    along_n : FloatArray
        What it pulls each support towards the row's end, shape (n_supports,): positive at a row's first support,
        negative at its last, next to nothing between. [N]
    start_tension_n : FloatArray
        Tension at the first support of each row, shape (n_rows,). [N]
    solved, too_long : BoolArray
        As `season.WireState` has them, shape (n_rows,).
    """

    tension_n: FloatArray
    down_n: FloatArray
    side_n: FloatArray
    along_n: FloatArray
    start_tension_n: FloatArray
    solved: BoolArray
    too_long: BoolArray


def under_load(
    supports: Supports,
    wire: Wire,
    unstretched_m: FloatLike,
    down_n_per_m: FloatLike,
    side_n_per_m: FloatLike,
    give: Give | None = None,
) -> Loaded:
    """State of the wires of many rows under loads that are spread evenly along them, sliding without friction.

    Ten level spans of 6 m of 2.5 mm wire strung at 300 N, with 21.1 N/m of wind to the side: every clip is pushed aside
    by 127 N, and the tension is

    >>> level = Supports(6.0 * np.arange(11.0), np.zeros(11), np.zeros(11, dtype=int))
    >>> wire = Wire.from_diameter(2.5)
    >>> strung = unstretched_totals(solve_chain(level, wire, 300.0))
    >>> blown = under_load(level, wire, strung, 0.0, 21.1)
    >>> blown.start_tension_n.round().tolist(), blown.side_n[5].round().tolist(), blown.down_n[5].round(1).tolist()
    ([982.0], 127.0, 2.3)

    Parameters
    ----------
    supports : Supports
        Of all rows, with the heights of the wire.
    wire : Wire
        One wire, or one for each row.
    unstretched_m : one number or shape (n_rows,), > 0
        Length without pull from a row's first support to its last, NaN where unknown: at the temperature of the state
        (`season.warmed`). [m]
    down_n_per_m, side_n_per_m : one number or shape (n_rows,), >= 0
        Load on a metre beside the wire's own weight, down and to the side. [N/m]
    give : Give, optional
        How the ends give way, from the tension at a row's first support. Default: they stand.

    Returns
    -------
    Loaded
        Tensions, and the forces on every support.

    Raises
    ------
    MechanicsError
        If a load is negative or not finite; as `season.chain_at_length`.
    """
    rows, own = supports.rows, wire.per_row(supports.rows)
    extra = rows.per_row("down_n_per_m", np.asarray(down_n_per_m, dtype=np.float64))
    side = rows.per_row("side_n_per_m", np.asarray(side_n_per_m, dtype=np.float64))
    require_non_negative("Wire under load", down_n_per_m=extra, side_n_per_m=side)
    down = own.weight_n_per_m + extra
    total = np.hypot(down, side)
    cos, sin = down / total, side / total
    near, of_span = rows.near, rows.of_span
    rise = np.where(np.isnan(supports.rise_m), 0.0, supports.rise_m)
    run = np.hypot(supports.dx_m, rise * sin[of_span])
    step = np.zeros(rows.size)
    step[near + 1] = run
    leaning = Supports(np.cumsum(step), supports.z_m * cos[rows.ordinal], rows)
    borne = Wire(total, own.axial_stiffness_n, own.expansion_per_k)
    state = chain_at_length(leaning, borne, unstretched_m, give)
    spans, cos, sin = state.chain.spans, cos[of_span], sin[of_span]
    # Towards the far end, square to the load: (a, b sin cos, b sin^2)/run along, aside and up. The load's own
    # direction, upwards: (0, -sin, cos).
    pull = spans.horizontal_n / run
    along, aside, up = pull * supports.dx_m, pull * rise * sin * cos, pull * rise * sin**2
    forces = np.zeros((3, rows.size))
    for at, vertical, towards in ((near, spans.vertical_start_n, 1.0), (near + 1, spans.vertical_end_n, -1.0)):
        forces[:, at] += towards * np.stack([along, aside - vertical * sin, up + vertical * cos])
    lost = ~state.solved[rows.ordinal]
    forces[:, lost] = np.nan
    return Loaded(
        tension_n=state.chain.support_tension_n,
        down_n=-forces[2],
        side_n=forces[1],
        along_n=forces[0],
        start_tension_n=state.start_tension_n,
        solved=state.solved,
        too_long=state.too_long,
    )
