"""Gauss nodes for the integrals over one Taylor step."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from xlcalc.rectifier.kernels.layout import NODES, RESPONSE_NODES

FloatArray = npt.NDArray[np.float64]


def _rule(nodes: int) -> tuple[FloatArray, FloatArray]:
    """Abscissas and weights on 0 to 1."""
    x, weight = np.polynomial.legendre.leggauss(nodes)
    return 0.5 * (x + 1.0), 0.5 * weight


ABSCISSA, WEIGHT = _rule(NODES)
RESPONSE_ABSCISSA, RESPONSE_WEIGHT = _rule(RESPONSE_NODES)
