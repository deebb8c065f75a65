"""Arrays by what they hold, as signatures and records name them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Indices = NDArray[np.intp]
Times = NDArray[np.datetime64]
Names = NDArray[np.str_]
