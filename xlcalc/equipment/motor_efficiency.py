"""Efficiency of a motor with its drive where nobody gave one: typical for its rating, never 100 %."""

from __future__ import annotations

from functools import cache
from typing import Final

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.standards.loader import column_number, read_table

TABLE = "iec60034_30_1"
DRIVE_EFFICIENCY_PCT = 97.0
"""Of the drive itself from its DC link to the motor; common practice, no source."""
BASIS = "IE2 motor of IEC 60034-30-1 (4-pole, secondary sources) and 3 % drive losses (common practice)"


CLASSES: Final = ("IE1", "IE2", "IE3", "IE4")
TYPICAL_CLASS: Final = "IE2"


def typical_motor_efficiency_pct(shaft_watts: float, efficiency_class: str = TYPICAL_CLASS) -> float:
    """Nominal efficiency of a 4-pole motor of a class, interpolated over the logarithm of the rating.

    Parameters
    ----------
    shaft_watts : float
        Rated shaft output, W; above 0. Below 0.75 and above 315 kW the values of these ratings hold.
    efficiency_class : str
        IE1 to IE4.

    Returns
    -------
    float
        Percent.

    Raises
    ------
    InputError
        The rating is not above 0, or there is no such class.

    References
    ----------
    IEC 60034-30-1:2014, nominal efficiencies at 50 Hz, from secondary sources.

    Examples
    --------
    >>> typical_motor_efficiency_pct(75e3)
    94.0
    >>> typical_motor_efficiency_pct(75e3, "IE4")
    96.0
    """
    if efficiency_class not in CLASSES:
        raise InputError("efficiency_class", efficiency_class, f"one of {', '.join(CLASSES)}")
    kw, efficiency = _table(efficiency_class)
    shaft = number("shaft_watts", shaft_watts, unit="W", above=0) / 1e3
    return float(np.interp(np.log(shaft), np.log(kw), efficiency))


def typical_efficiency_pct(shaft_watts: float, efficiency_class: str = TYPICAL_CLASS) -> float:
    """Shaft output per DC-link power of a drive with its motor, for ratings without a typed efficiency.

    Parameters, returns and errors as `typical_motor_efficiency_pct`.

    Examples
    --------
    >>> round(typical_efficiency_pct(75e3), 2)
    91.18
    """
    return typical_motor_efficiency_pct(shaft_watts, efficiency_class) * DRIVE_EFFICIENCY_PCT / 100.0


@cache
def _table(efficiency_class: str) -> tuple[FloatArray, FloatArray]:
    rows = [row for row in read_table(TABLE) if row["class"] == efficiency_class]
    columns = (np.array([column_number(row, name) for row in rows]) for name in ("kw", "efficiency_pct"))
    kw, efficiency = columns
    return kw, efficiency
