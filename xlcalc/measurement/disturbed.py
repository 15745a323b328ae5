"""Dips, swells and interruptions in recorded voltages: their windows count in no statistics."""

from __future__ import annotations

import numpy as np

from xlcalc.checks import number
from xlcalc.measurement.recording import VOLTAGE, Recording
from xlcalc.spectrum import FloatArray

DIP, SWELL = 0.9, 1.1
"""Of the declared voltage: usual thresholds, common practice."""


def disturbed_seconds(recording: Recording, nominal_hz: float, nominal_volts: float | None) -> FloatArray:
    """Seconds at which the rms value of a cycle is out of 90 to 110 % of the declared voltage.

    The rms value of a cycle is taken anew every half cycle.
    """
    if nominal_volts is None:
        return np.empty(0)
    declared = number("nominal_volts", nominal_volts, unit="V", above=0)
    cycle = round(recording.rate / nominal_hz)
    found: list[float] = []
    for column, channel in enumerate(recording.channels):
        if channel.quantity != VOLTAGE or channel.phase == "n":
            continue
        share = 1.0 if len(channel.phase) == 2 else np.sqrt(3.0)
        total = np.concatenate([[0.0], np.cumsum(np.nan_to_num(recording.samples[:, column]) ** 2)])
        starts = np.arange(0, total.size - cycle, max(1, cycle // 2))
        rms = np.sqrt((total[starts + cycle] - total[starts]) / cycle) * share / declared
        found += ((starts + 0.5 * cycle) / recording.rate)[(rms < DIP) | (rms > SWELL)].tolist()
    return np.array(sorted(found))
