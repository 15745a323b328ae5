"""Unbalance and background distortion to assume where nobody has measured them.

Engineering judgement on the basis that each row of the table names, not survey data. The levels are those of
supplies up to 69 kV; above, where IEEE 519 allows less distortion, they shrink with its limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.standards import ieee519
from xlcalc.standards.loader import Origin, column_number, read_table

IDEAL: Final = "ideal"
TYPICAL: Final = "typical"

MEDIUM_VOLTAGE_THD_PCT: Final = 5.0
"""Limit of the voltage distortion in the class of supplies that the levels are for (IEEE 519, 1 to 69 kV)."""


@dataclass(frozen=True)
class SupplyPreset:
    """Levels of an assumed supply.

    Parameters
    ----------
    name : str
        "ideal", "typical", "poor" or "permitted".
    unbalance_pct : float
        Negative over positive sequence, percent.
    background : tuple of (int, float)
        Order and percent of the nominal voltage.
    origin : Origin
        Basis of the levels.
    """

    name: str
    unbalance_pct: float
    background: tuple[tuple[int, float], ...]
    origin: Origin

    def at(self, kv: float) -> SupplyPreset:
        """The levels for a supply of this nominal voltage, kV; lower where less is allowed."""
        allowed = min(1.0, ieee519.voltage_limit(kv).value / MEDIUM_VOLTAGE_THD_PCT)
        background = tuple((order, allowed * pct) for order, pct in self.background)
        return SupplyPreset(self.name, self.unbalance_pct, background, self.origin)


@cache
def preset_names() -> tuple[str, ...]:
    """Names of the presets, from the best supply to the worst."""
    return tuple(dict.fromkeys(row["preset"] for row in read_table("supply_presets")))


@cache
def supply_preset(name: str) -> SupplyPreset:
    """A preset by its name.

    Raises
    ------
    InputError
        No preset of this name.

    Examples
    --------
    >>> supply_preset("typical").unbalance_pct, supply_preset("typical").background[0]
    (1.0, (5, 2.0))
    >>> supply_preset("typical").at(138).background[0]
    (5, 1.0)
    """
    if name not in preset_names():
        raise InputError("supply", name, "one of " + ", ".join(preset_names()), wrong_kind=True)
    rows = [row for row in read_table("supply_presets") if row["preset"] == name]
    levels = {int(row["order"]): column_number(row, "pct") for row in rows}
    background = tuple((order, pct) for order, pct in levels.items() if order > 1)
    return SupplyPreset(name, levels[1], background, Origin.of_row(rows[0]))
