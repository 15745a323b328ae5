"""Gauss nodes for the integrals over one Taylor step."""

from __future__ import annotations

import numpy as np

from xlcalc.rectifier.kernels.layout import NODES

_X, _W = np.polynomial.legendre.leggauss(NODES)
ABSCISSA = 0.5 * (_X + 1.0)
WEIGHT = 0.5 * _W
