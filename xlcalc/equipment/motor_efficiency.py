"""Efficiency of a motor with its drive where nobody gave one: typical for its rating, never 100 %."""

from __future__ import annotations

from functools import cache

import numpy as np

from xlcalc.checks import number
from xlcalc.spectrum import FloatArray
from xlcalc.standards.loader import column_number, read_table

TABLE = "iec60034_30_1"
DRIVE_EFFICIENCY_PCT = 97.0
"""Of the drive itself from its DC link to the motor; common practice, no source."""
BASIS = "IE2 motor of IEC 60034-30-1 (4-pole, secondary sources) and 3 % drive losses (common practice)"


def typical_motor_efficiency_pct(shaft_watts: float) -> float:
    """Nominal efficiency of a 4-pole motor of class IE2, interpolated over the logarithm of the rating.

    Parameters
    ----------
    shaft_watts : float
        Rated shaft output, W; above 0. Below 0.75 and above 315 kW the values of these ratings hold.

    Returns
    -------
    float
        Percent.

    Raises
    ------
    InputError
        The rating is not above 0.

    References
    ----------
    IEC 60034-30-1:2014, nominal efficiencies at 50 Hz, from secondary sources.

    Examples
    --------
    >>> typical_motor_efficiency_pct(75e3)
    94.0
    """
    kw, efficiency = _table()
    shaft = number("shaft_watts", shaft_watts, unit="W", above=0) / 1e3
    return float(np.interp(np.log(shaft), np.log(kw), efficiency))


def typical_efficiency_pct(shaft_watts: float) -> float:
    """Shaft output per DC-link power of a drive with its motor, for ratings without a typed efficiency.

    Parameters, returns and errors as `typical_motor_efficiency_pct`.

    Examples
    --------
    >>> round(typical_efficiency_pct(75e3), 2)
    91.18
    """
    return typical_motor_efficiency_pct(shaft_watts) * DRIVE_EFFICIENCY_PCT / 100.0


@cache
def _table() -> tuple[FloatArray, FloatArray]:
    rows = read_table(TABLE)
    columns = (np.array([column_number(row, name) for row in rows]) for name in ("kw", "efficiency_pct"))
    kw, efficiency = columns
    return kw, efficiency
