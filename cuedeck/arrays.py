"""What arrays hold, by the names under which all rooms speak of them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Slots = npt.NDArray[np.uint8]
"""Slots of packets, or bytes of any kind."""
Values = npt.NDArray[np.float64]
"""Levels from 0 to 1, times, coordinates: each place says which, and in what unit."""
Numbers = npt.NDArray[np.int64]
"""Whole numbers: of packets or samples, or times in nanoseconds."""
Index = npt.NDArray[np.intp]
"""Places in another array."""
Mask = npt.NDArray[np.bool_]
"""Which places of another array are meant."""
Sound = npt.NDArray[np.float32]
"""Sound, from -1 to 1."""
