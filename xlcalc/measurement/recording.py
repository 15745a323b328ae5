"""A recording: samples of several channels at one rate, and what is known of each channel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray

VOLTAGE: Final = "voltage"
CURRENT: Final = "current"
UNITS: Final = {VOLTAGE: "V", CURRENT: "A"}
PHASES: Final = ("a", "b", "c", "n", "ab", "bc", "ca")


@dataclass(frozen=True)
class Channel:
    """What one channel of a recording holds, on the primary side of its transformer.

    Parameters
    ----------
    name : str
        As the recorder names it.
    quantity : str
        "voltage" or "current".
    phase : str
        a, b, c, n, ab, bc or ca; empty where it is not known.

    Raises
    ------
    InputError
        Another quantity or phase.
    """

    name: str
    quantity: str
    phase: str = ""

    def __post_init__(self) -> None:
        if self.quantity not in UNITS:
            raise InputError(f"quantity of {self.name}", self.quantity, "one of " + ", ".join(UNITS))
        if self.phase and self.phase not in PHASES:
            raise InputError(f"phase of {self.name}", self.phase, "one of " + ", ".join(PHASES))

    @property
    def unit(self) -> str:
        """V or A."""
        return UNITS[self.quantity]


@dataclass(frozen=True, kw_only=True)
class Recording:
    """Samples of several channels, equally spaced.

    Parameters
    ----------
    samples : array of float, shape (n, m)
        V and A, n samples of m channels. NaN where nothing was recorded.
    rate : float
        Samples per second, above 0.
    channels : tuple of Channel
        One per column.
    start : datetime64, optional
        Time of the first sample, UTC.
    findings : tuple of str
        What was found in the data, each a sentence.

    Raises
    ------
    InputError
        Samples of another shape, infinite ones, or none.
    """

    samples: FloatArray
    rate: float
    channels: tuple[Channel, ...]
    start: np.datetime64 | None = None
    findings: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        number("rate", self.rate, unit="samples per second", above=0)
        if self.samples.ndim != 2 or self.samples.shape[1] != len(self.channels) or not self.samples.size:
            shape = f"of shape {self.samples.shape} for {len(self.channels)} channels"
            raise InputError("samples", shape, "one row per sample and one column per channel")
        if np.any(np.isinf(self.samples)):
            raise InputError("samples", "infinite", "finite numbers, NaN where nothing was recorded")

    @property
    def seconds(self) -> float:
        """Duration."""
        return int(self.samples.shape[0]) / self.rate

    def index(self, quantity: str, phase: str) -> int | None:
        """Column of a quantity and phase; None where there is none."""
        for column, channel in enumerate(self.channels):
            if (channel.quantity, channel.phase) == (quantity, phase):
                return column
        return None

    def with_findings(self, *findings: str) -> Recording:
        """The same recording with more findings."""
        return replace(self, findings=(*self.findings, *findings))


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
