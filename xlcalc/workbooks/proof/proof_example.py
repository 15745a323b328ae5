"""An invented day of 10-minute values: the harmonic currents of one six-pulse drive whose load varies."""

from __future__ import annotations

from typing import Final

import numpy as np

from xlcalc.workbooks.proof.proof_data import ORDERS, PHASES, ProofData

INTERVALS: Final = 144
BASE_AMPS: Final = 200.0
_SHARES: Final = {5: 0.34, 7: 0.11, 11: 0.07, 13: 0.035, 17: 0.025, 19: 0.018, 23: 0.012, 25: 0.01}
"""Of the fundamental; invented, of the usual size of a drive with a 3 % reactor."""


def example() -> ProofData:
    """What the template opens with; every value is invented."""
    hours = np.arange(INTERVALS) / 6.0
    load = 0.35 + 0.25 * np.clip(np.sin((hours - 6.0) / 12.0 * np.pi), 0.0, None) + 0.05 * np.sin(hours * 2.1)
    percent = np.full((PHASES, INTERVALS, ORDERS), 0.05)
    for phase in range(PHASES):
        lean = 1.0 + 0.03 * (phase - 1)
        percent[phase, :, 0] = 100.0 * load * lean
        for order, share in _SHARES.items():
            percent[phase, :, order - 1] = 100.0 * share * load ** (0.6 if order < 10 else 0.9) * 0.3 * lean
    percent[:, 60:62, :] = np.nan
    known = np.isfinite(percent[2, :, 0])
    distortion = np.sqrt(np.sum(percent[2, :, 1:] ** 2, axis=1)) / percent[2, :, 0] * 100.0
    trend = np.column_stack(
        [
            hours,
            BASE_AMPS / 100.0 * percent[2, :, 0],
            distortion,
            60.0 + 0.01 * np.sin(hours),
            np.where(known, 0.0, 1.0),
        ]
    )
    measured = BASE_AMPS / 100.0 * np.sqrt(np.nanmean(percent[2] ** 2, axis=0))
    predicted = measured * np.where(np.arange(1, ORDERS + 1) % 6 == 5, 1.05, 0.96)
    spectrum = np.column_stack([measured, predicted, 0.85 * predicted, 1.15 * predicted, np.zeros(ORDERS)])
    spectrum[:, 1:4][np.isin(np.arange(1, ORDERS + 1), list(_SHARES), invert=True)] = np.nan
    spectrum[0, 1:4] = measured[0]
    degrees = np.linspace(0.0, 360.0, 121)
    waves = [_wave(degrees, values) for values in (measured, np.nan_to_num(spectrum[:, 1]))]
    return ProofData(
        inputs={
            "title": "Field proof (example values, replace them)",
            "nominal kv": 0.48,
            "demand amps": BASE_AMPS,
            "isc/il": 60.0,
            "edition": "2022",
            "base amps": BASE_AMPS,
        },
        facts={
            "record": "invented: one day of 10-minute values, two of them flagged",
            "prediction": "invented: what a study of the drive might give at the mean load",
        },
        sentences=("current: invented values; xlcalc measure writes here whether a record agrees",),
        hours=hours,
        percent=percent,
        trend=trend,
        spectrum=spectrum,
        wave=np.column_stack([degrees, *waves]),
        days=tuple(("1", phase, 28_740, 62.0 + k) for k, phase in enumerate("abc")),
    )


def _wave(degrees: np.ndarray, rms: np.ndarray) -> np.ndarray:
    """A waveform with the angles of a six-pulse bridge: orders 6k - 1 and 6k + 1 in turn."""
    angle = np.radians(degrees - 20.0)
    total = np.zeros(degrees.size)
    for order in (1, *_SHARES):
        sign = -1.0 if (order + 1) // 6 % 2 and order > 1 else 1.0
        total += sign * np.sqrt(2.0) * rms[order - 1] * np.cos(order * angle)
    return total
