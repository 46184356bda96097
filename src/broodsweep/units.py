"""Names for units in signatures; every one is a plain number underneath."""

from __future__ import annotations

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Metres: TypeAlias = float
Kilometres: TypeAlias = float
Degrees: TypeAlias = float
Days: TypeAlias = float
Probability: TypeAlias = float

FloatArray: TypeAlias = NDArray[np.float64]
IntArray: TypeAlias = NDArray[np.int64]
BoolArray: TypeAlias = NDArray[np.bool_]
AnyArray: TypeAlias = NDArray[Any]
