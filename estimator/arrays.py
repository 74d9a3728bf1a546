"""Arrays of numbers, named by what they hold."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Single = NDArray[np.float32]
Flags = NDArray[np.bool_]
Whole = NDArray[np.int64]
