"""EMF of the supply as phasors of its three phases."""

from __future__ import annotations

import cmath
import math

import numpy as np

from xlcalc.rectifier.circuit import Supply
from xlcalc.rectifier.impedance import ComplexArray

STEP = 2.0 * math.pi / 3.0


def emf_phasors(supply: Supply, max_order: int) -> ComplexArray:
    """EMF to neutral, zero sequence included, V rms, shape (3, max_order)."""
    origin = math.radians(supply.angle_deg)
    volts = supply.volts / math.sqrt(3.0)
    phase = np.arange(3)
    emf = np.zeros((3, max_order), np.complex128)
    turn = cmath.exp(1j * origin)
    emf[:, 0] = (
        volts * turn * (np.exp(-1j * STEP * phase) + supply.negative_sequence * np.exp(1j * STEP * phase))
    )
    for order, value in supply.background:
        if order <= max_order:
            emf[:, order - 1] = volts * value * np.exp(1j * (order * origin - order * STEP * phase))
    for order, sequence, value in supply.components:
        if order <= max_order:
            emf[:, order - 1] += volts * value * np.exp(1j * (order * origin - sequence * STEP * phase))
    return emf
