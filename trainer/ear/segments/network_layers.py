"""What the layers of the networks for starts are made of."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Values = NDArray[np.float32]


def rising(values: Values) -> Values:
    """The values, of any shape, zero where they are less."""
    return np.maximum(values, np.float32(0))


def with_edges(seen: Values, edge: int) -> Values:
    """So many zeros before and after in time; seen: shape (..., steps, rows). Written out, since
    `np.pad` took as long as the layer itself."""
    *before, length, rows = seen.shape
    padded = np.zeros((*before, length + 2 * edge, rows), np.float32)
    padded[..., edge : edge + length, :] = seen
    return padded
