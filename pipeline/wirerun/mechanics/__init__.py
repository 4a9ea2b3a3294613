"""Mechanics of a wire: numpy and scipy only, whole arrays, checkable against a textbook without a map.

Nomenclature
------------
==============  ============================================================================  ========
symbol          meaning                                                                       unit
==============  ============================================================================  ========
x               station: horizontal distance along the row                                    [m]
z               height, positive upwards; only differences count                              [m]
run             horizontal distance from the near to the far support of a span, always > 0    [m]
rise            height of the far support above the near one, negative downhill               [m]
L0              length of wire in a span as it lies on the ground, without pull               [m]
w               weight of the wire per metre of L0                                            [N/m]
EA              axial stiffness: the pull that would double the length                        [N]
H               horizontal pull, the same all along a span                                    [N]
T               tension, along the wire; H = T cos(slope angle)                               [N]
V               vertical force in the wire, H times its slope, positive where it rises
                towards the far end                                                           [N]
p, q            asinh of the wire's slope at the near and at the far end of a span            [-]
m, d            (p + q)/2 and (q - p)/2: lean and half turn of the wire in a span; d > 0      [-]
k               H/EA                                                                          [-]
load            force of the wire on a clip, positive when it bears down, negative when it
                pulls up                                                                      [N]
g               grade change at a support, negative at a crest, positive in a hollow          [-]
sigma           standard deviation: of a ground height [m] or of a load [N]
==============  ============================================================================  ========

Near and far go by growing station: a row is walked from its first support to its last. Supports of many
rows stand one after another in one array; ``row`` says which row each belongs to (:mod:`.ragged`).
Standard gravity is 9.80665 m/s2 (3rd General Conference on Weights and Measures, 1901).

References
----------
H. M. Irvine, Cable Structures, MIT Press, 1981 (from memory: the equations are derived again where used).
"""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
FloatLike = FloatArray | float
