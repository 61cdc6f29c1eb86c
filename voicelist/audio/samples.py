"""What all sound in the program is: 16 kHz, 16 bit."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

SAMPLE_RATE_HZ = 16_000

Samples = NDArray[np.int16]
