"""Mechanics of a wire: numpy and scipy only, whole arrays, checkable against a textbook without a map.

Two values say what there is, each checked once when it is made: `Supports`, where the wire hangs, and `Wire`. What
is computed from them takes them first, and then what is given of the state: a tension, a length.

The wires of a block, strung over a hollow in one row and a crest in another, and ten kelvin warmer:

>>> x_m, row = np.array([0.0, 6.0, 12.0] * 2), np.array([1, 1, 1, 2, 2, 2])
>>> supports = Supports(x_m, np.array([0.3, 0.0, 0.5, 0.0, 0.3, 0.0]), row)
>>> wire = Wire.from_diameter(2.5)
>>> strung = solve_chain(supports, wire, 1000.0)
>>> strung.clip_load_n.round(1).tolist()  # positive bears down, negative pulls up
[nan, -130.7, nan, nan, 102.1, nan]
>>> warm = chain_at_length(supports, wire, warmed(wire, unstretched_totals(strung), 10.0))
>>> warm.start_tension_n.round().tolist()
[882.0, 882.0]

All names of this module and ``np`` are there in the examples of its functions.

Nomenclature
------------
==============  ============================================================================  ========
symbol          meaning                                                                       unit
==============  ============================================================================  ========
x               station: horizontal distance along the row                                    [m]
z               height, positive upwards; only differences count                              [m]
dx              horizontal distance from the near to the far support of a span, always > 0    [m]
rise            height of the far support above the near one, negative downhill               [m]
L0              length of wire in a span as it lies on the ground, without pull               [m]
w               weight of the wire per metre of L0                                            [N/m]
EA              axial stiffness: the pull that would double the length                        [N]
H               horizontal tension, the same all along a span                                 [N]
T               tension, along the wire; H = T cos(slope angle)                               [N]
V               vertical force in the wire, H times its slope, positive where it rises
                towards the far end                                                           [N]
p, q            asinh of the wire's slope at the near and at the far end of a span            [-]
m, d            (p + q)/2 and (q - p)/2: lean and half turn of the wire in a span; d > 0      [-]
k               H/EA                                                                          [-]
load            force of the wire on a clip, positive when it bears down, negative when it
                pulls up                                                                      [N]
g               grade change at a support, negative at a crest, positive in a hollow          [-]
R               force on a metre of a wire under load, its own weight among it                    [N/m]
beta            lean of that force from the plumb                                                 [rad]
sigma           standard deviation: of a ground height [m] or of a load [N]
==============  ============================================================================  ========

Near and far go by growing station: a row is walked from its first support to its last. Supports of many
rows stand one after another in one array; `RowIndex` says which row each belongs to.
Standard gravity is 9.80665 m/s2 (3rd General Conference on Weights and Measures, 1901).

References
----------
H. M. Irvine, Cable Structures, MIT Press, 1981 (not read: the equations are derived where used, see
`wirerun.mechanics.catenary`).
"""

from wirerun.arrays import BoolArray, FloatArray, FloatLike, IntArray
from wirerun.mechanics.catenary import SpanState, sag_level, solve_span_length, solve_span_tension
from wirerun.mechanics.chain import Chain, clip_loads, solve_chain, support_tensions, unstretched_totals
from wirerun.mechanics.clearance import Clearance, low_spans
from wirerun.mechanics.drop import Clear, clear_along, length_to_drop, level_drop_span, level_share
from wirerun.mechanics.enough import Freed, marks_passed
from wirerun.mechanics.fastener import embedment, shear_load, used_together, yield_moment
from wirerun.mechanics.friction import (
    ADVICE,
    ClipTension,
    StrainAdvice,
    capstan_factor,
    clip_turns,
    strain_advice,
    tension_with_friction,
)
from wirerun.mechanics.gauge import mid_span_deflection, pushed_tension, side_force_for, tension_for
from wirerun.mechanics.give import Give, give_of_some, give_together, rigid
from wirerun.mechanics.post_in_ground import push_by_code, push_in_clay, push_in_sand
from wirerun.mechanics.rest import RestState, rest_on_ground
from wirerun.mechanics.row_index import RowIndex
from wirerun.mechanics.season import WireState, chain_at_length, tighter_than, warmed
from wirerun.mechanics.service_loads import Loaded, under_load
from wirerun.mechanics.side_bearing import push_to_bend, push_to_turn
from wirerun.mechanics.splice import drawn_back, kept_at_ends
from wirerun.mechanics.supports import Supports
from wirerun.mechanics.timber import nail_withdrawal, screw_withdrawal, smooth_nail_strength
from wirerun.mechanics.undulation import (
    grade_changes,
    height_covariance,
    lifting_dip,
    load_sensitivity,
    load_sigma,
    need_probability,
    taut_clip_load,
)
from wirerun.mechanics.wind import mesh_loss, peak_over_mean, sheet_drag, wind_pressure
from wirerun.mechanics.wire import Wire, axial_stiffness, coil_length, weight_per_m

__all__ = [
    "ADVICE",
    "BoolArray",
    "Chain",
    "Clear",
    "Clearance",
    "ClipTension",
    "FloatArray",
    "FloatLike",
    "Freed",
    "Give",
    "IntArray",
    "Loaded",
    "RestState",
    "RowIndex",
    "SpanState",
    "StrainAdvice",
    "Supports",
    "Wire",
    "WireState",
    "axial_stiffness",
    "capstan_factor",
    "chain_at_length",
    "clear_along",
    "clip_loads",
    "clip_turns",
    "coil_length",
    "drawn_back",
    "embedment",
    "give_of_some",
    "give_together",
    "grade_changes",
    "height_covariance",
    "kept_at_ends",
    "length_to_drop",
    "level_drop_span",
    "level_share",
    "lifting_dip",
    "load_sensitivity",
    "load_sigma",
    "low_spans",
    "marks_passed",
    "mesh_loss",
    "mid_span_deflection",
    "nail_withdrawal",
    "need_probability",
    "peak_over_mean",
    "push_by_code",
    "push_in_clay",
    "push_in_sand",
    "push_to_bend",
    "push_to_turn",
    "pushed_tension",
    "rest_on_ground",
    "rigid",
    "sag_level",
    "screw_withdrawal",
    "shear_load",
    "sheet_drag",
    "side_force_for",
    "smooth_nail_strength",
    "solve_chain",
    "solve_span_length",
    "solve_span_tension",
    "strain_advice",
    "support_tensions",
    "taut_clip_load",
    "tension_for",
    "tension_with_friction",
    "tighter_than",
    "under_load",
    "unstretched_totals",
    "used_together",
    "warmed",
    "weight_per_m",
    "wind_pressure",
    "yield_moment",
]
