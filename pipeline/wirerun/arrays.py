"""What the arrays of this package hold; their axes are named where they are made."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]
#: Ids and words; None where there is none.
TextArray = NDArray[np.object_]
