"""Measured orders beside predicted ones, with the band that uncertain inputs and the instrument allow."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray

LEAST_PCT: Final = 0.5
"""Of the fundamental: orders that are smaller in both are not compared; common practice, no source."""
CURRENT_ACCURACY: Final = (0.05, 0.0015)
VOLTAGE_ACCURACY: Final = (0.05, 0.0005)
"""Instrument of class I: of the reading, and of the nominal value where the reading is small.

IEC 61000-4-7, table 1 (from memory).
"""


@dataclass(frozen=True, kw_only=True)
class Band:
    """A prediction and how far its inputs let it vary.

    Parameters
    ----------
    expected, low, high : array of float, shape (n,)
        rms of orders 1 to n.
    parts : mapping of str to (float, float)
        By input: the largest change of an order above the first that its uncertainty makes, down and up.
    """

    expected: FloatArray
    low: FloatArray
    high: FloatArray
    parts: Mapping[str, tuple[float, float]]


def band(expected: FloatArray, varied: Mapping[str, tuple[FloatArray, ...]]) -> Band:
    """The band around a prediction: changes by single inputs, added as roots of squares.

    Parameters
    ----------
    expected : array of float, shape (n,)
    varied : mapping of str to tuple of arrays
        By input: the prediction with it lower, higher or otherwise than expected.

    Examples
    --------
    Two inputs that change 10 A by 3 A and 4 A upwards, one of them by 1 A downwards (by hand)

    >>> found = band(np.array([10.0]), {"a": (np.array([9.0]), np.array([13.0])), "b": (np.array([14.0]),)})
    >>> found.low.tolist(), found.high.tolist()
    ([9.0], [15.0])
    """
    below, above = np.zeros_like(expected), np.zeros_like(expected)
    parts: dict[str, tuple[float, float]] = {}
    for name, others in varied.items():
        changes = np.array([other - expected for other in others])
        down, up = np.maximum(-changes.min(axis=0), 0.0), np.maximum(changes.max(axis=0), 0.0)
        below, above = below + down**2, above + up**2
        parts[name] = (float(down[1:].max(initial=0.0)), float(up[1:].max(initial=0.0)))
    return Band(
        expected=expected,
        low=np.maximum(expected - np.sqrt(below), 0.0),
        high=expected + np.sqrt(above),
        parts=parts,
    )


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One order, in the phase in which most of it was measured.

    `outside` is how far the measurement lies outside the band and the accuracy of the instrument, above 0
    upwards, below 0 downwards, 0 inside; `compared` is False where both are too small to be compared.
    """

    phase: str
    order: int
    measured: float
    expected: float
    low: float
    high: float
    outside: float
    compared: bool


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """Whether a measurement and a prediction agree, and where not.

    Parameters
    ----------
    rows : tuple of Compared
    unit : str
        Of the amounts.
    what : str
        "current" or "voltage".
    """

    rows: tuple[Compared, ...]
    unit: str
    what: str

    @property
    def compared(self) -> tuple[Compared, ...]:
        """Rows that count."""
        return tuple(row for row in self.rows if row.compared)

    @property
    def outside(self) -> tuple[Compared, ...]:
        """Those that do not agree, the farthest first."""
        found = [row for row in self.compared if row.outside]
        return tuple(sorted(found, key=lambda row: -abs(row.outside)))

    @property
    def agrees(self) -> bool | None:
        """None where no order was large enough to be compared."""
        return not self.outside if self.compared else None

    @property
    def sentence(self) -> str:
        """Agrees or does not, and where."""
        count = len(self.compared)
        if self.agrees is None:
            return (
                f"{self.what}: NOT COMPARED, no order above {LEAST_PCT:g} % of the fundamental was recorded"
            )
        if self.agrees:
            return (
                f"{self.what}: AGREES, all {count} orders above {LEAST_PCT:g} % lie in the band "
                "of the prediction"
            )
        worst = self.outside[0]
        side = "above" if worst.outside > 0.0 else "below"
        places = ", ".join(dict.fromkeys(f"{row.order}" for row in self.outside))
        return (
            f"{self.what}: DOES NOT AGREE, {len(self.outside)} of {count} orders lie outside the "
            f"band (orders {places}); the farthest is order {worst.order} of phase {worst.phase}: "
            f"{worst.measured:.4g} {self.unit} measured, {worst.expected:.4g} predicted, "
            f"{worst.low:.4g} to {worst.high:.4g} possible, {abs(worst.outside):.3g} {self.unit} {side} that"
        )


def agreement(
    measured: Mapping[str, FloatArray], predicted: Band, *, what: str, unit: str, fundamental: float
) -> Agreement:
    """Compare orders 2 and above of the phase that has most of each with a band.

    A study predicts the phase that has most, too.

    Parameters
    ----------
    measured : mapping of str to array of float, shape (n,)
        By phase: rms of orders 1 to n, NaN where an order was not recorded.
    predicted : Band
    what : str
        "current" or "voltage".
    unit : str
    fundamental : float
        What the least order and the accuracy of the instrument refer to.

    Raises
    ------
    InputError
        No phase, or another quantity.
    """
    if what not in ("current", "voltage"):
        raise InputError("what", what, "current or voltage")
    if not measured:
        raise InputError("measured", "without phases", f"a record of a {what}")
    share, floor = CURRENT_ACCURACY if what == "current" else VOLTAGE_ACCURACY
    phases = list(measured)
    last = min(predicted.expected.size, min(values.size for values in measured.values()))
    table = np.array([measured[phase][:last] for phase in phases])
    rows = []
    for order in range(2, last + 1):
        of_order = table[:, order - 1]
        if not np.isfinite(of_order).any():
            continue
        largest = int(np.nanargmax(of_order))
        value, expected = float(of_order[largest]), float(predicted.expected[order - 1])
        low, high = float(predicted.low[order - 1]), float(predicted.high[order - 1])
        accuracy = max(share * value, floor * fundamental)
        rows.append(
            Compared(
                phase=phases[largest],
                order=order,
                measured=value,
                expected=expected,
                low=low,
                high=high,
                outside=max(0.0, value - accuracy - high) - max(0.0, low - value - accuracy),
                compared=100.0 * max(value, expected) >= LEAST_PCT * fundamental,
            )
        )
    return Agreement(rows=tuple(rows), unit=unit, what=what)
