"""What stands for a value that a nameplate leaves open: typical, with its range, basis and source."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.standards.loader import Origin, column_number, read_table

TABLE: Final = "drive_habits"
MOTOR_TABLE: Final = "nec_430_250"
VOLTS_TOLERANCE: Final = 0.1
EQUIVALENT: Final = "equivalent"


@dataclass(frozen=True)
class Habit:
    """A typical value and its range.

    Parameters
    ----------
    low, typical, high : float
        In `unit`.
    unit : str
    origin : Origin
    """

    low: float
    typical: float
    high: float
    unit: str
    origin: Origin

    @property
    def basis(self) -> str:
        """Where it comes from, in words."""
        return f"{self.origin.source} ({self.origin.verified_text})"

    def times(self, factor: float, unit: str = "%") -> Habit:
        """The habit in units of something stated."""
        low, typical, high = (round(factor * x, 9) for x in (self.low, self.typical, self.high))
        return Habit(low, typical, high, unit, self.origin)


def habit(device: str, given: str, kw: float = 0.0) -> Habit:
    """What a device usually has.

    Parameters
    ----------
    device, given : str
        As the table names them: "dc choke" and "yes".
    kw : float
        Rated DC-link power, 0 to 100,000 kW.

    Raises
    ------
    InputError
        The table has no such row.

    Examples
    --------
    >>> habit("dc choke", "yes", 75.0).typical, habit("dc choke", "yes", 640.0).typical
    (3.0, 2.0)
    """
    for row in read_table(TABLE):
        fits = column_number(row, "kw_from") <= kw <= column_number(row, "kw_to")
        if (row["device"], row["given"]) == (device, given) and fits:
            low, typical, high = (column_number(row, name) for name in ("low", "typical", "high"))
            return Habit(low, typical, high, row["unit"], Origin.of_row(row))
    raise InputError("device", f"{device}, {given}, {kw:g} kW", f"a row of the table {TABLE}")


def reactor_habit(device: str, given: str, stated_pct: float = 0.0, kw: float = 0.0) -> Habit:
    """Percent of a line reactor or DC choke of which a nameplate says "yes", "unknown" or an equivalent.

    Parameters
    ----------
    device : str
        "line reactor" or "dc choke".
    given : str
        "yes", "unknown" or "equivalent".
    stated_pct : float
        Percent of the AC reactor to which the device is said to be equivalent.
    kw : float
        Rated DC-link power, kW.

    Raises
    ------
    InputError
        As `habit`.

    Examples
    --------
    >>> reactor_habit("dc choke", "equivalent", 3.0).typical
    4.5
    """
    found = habit(device, given, kw)
    return found.times(stated_pct) if given == EQUIVALENT else found


def motor_amps(hp: float, volts: float) -> float:
    """Full-load current of a three-phase induction motor, for wiring.

    Parameters
    ----------
    hp : float
        Rating of the table, 0.5 to 500 hp; values between are interpolated.
    volts : float
        Rated voltage of the motor, within 10 % of 200, 208, 230, 460 or 575 V.

    Returns
    -------
    float
        A; as a rule above the nameplate of modern motors.

    Raises
    ------
    InputError
        Outside the table.

    References
    ----------
    NEC Table 430.250 (public copies).

    Examples
    --------
    >>> motor_amps(100, 460), motor_amps(10, 480)
    (124.0, 14.0)
    """
    rows = read_table(MOTOR_TABLE)
    columns = sorted({column_number(row, "volts") for row in rows}, key=lambda v: abs(v - volts))
    nearest = columns[0]
    if abs(number("volts", volts, unit="V", above=0) / nearest - 1.0) > VOLTS_TOLERANCE:
        raise InputError("volts", volts, "within 10 % of 200, 208, 230, 460 or 575 V")
    table = [
        (column_number(row, "hp"), column_number(row, "amps"))
        for row in rows
        if column_number(row, "volts") == nearest
    ]
    least, most = table[0][0], table[-1][0]
    if not least <= number("hp", hp, unit="hp", above=0) <= most:
        raise InputError("hp", hp, f"{least:g} to {most:g} hp at {nearest:g} V")
    for (low, low_amps), (high, high_amps) in pairwise(table):
        if low <= hp <= high:
            return low_amps + (hp - low) / (high - low) * (high_amps - low_amps)
    return table[0][1]
