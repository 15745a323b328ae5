"""The front end of one drive on one supply, what it feels, and what its magnetics carry."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final, Protocol

import pandas as pd

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.schema.assembly.drive import at_rating
from xlcalc.schema.assembly.front_end import filter_of, front_end_values, phase_shift_of
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS
from xlcalc.schema.inputs.supply import supply_values
from xlcalc.studies.duty.front_end import (
    LINES_PCT,
    NO_LOAD_PER_LINE_VOLT,
    Coil,
    Magnetics,
    at_line,
    link_duty,
    magnetics,
)

if TYPE_CHECKING:
    from xlcalc.rectifier.result import SteadyState

SHOWN_ORDERS: Final = (5, 7, 11, 13)


class Rated(Protocol):
    """What a drive gives."""

    @property
    def values(self) -> Mapping[str, Any]:
        """By the names of the columns of a schedule."""
        ...

    @property
    def rated_watts(self) -> float:
        """DC-link power."""
        ...


class Feeding(Protocol):
    """What a supply gives."""

    @property
    def mva(self) -> float:
        """Short-circuit level."""
        ...

    @property
    def settings(self) -> Mapping[str, object]:
        """Its settings of the worksheet functions."""
        ...


def front_end_of(drive: Rated, supply: Feeding, settings: Mapping[str, object] | None = None) -> FrontEnd:
    """The front end of one unit of a drive on a supply.

    Raises
    ------
    InputError
        A value outside its range, or values that do not fit each other.
    """
    values = at_rating(drive.values, drive.rated_watts)
    chosen = chosen_settings(supply, settings)
    return FrontEnd(
        pulses=values["pulses"],
        source_pct=100.0 * drive.rated_watts / (1e6 * supply.mva),
        source_xr=chosen["source x/r"],
        reactor_pct=values["line reactor pct"],
        choke_pct=values["dc choke pct"],
        load_pct=values["load pct"],
        filter=filter_of(values),
        phase_shift_deg=phase_shift_of(values),
        **front_end_values(chosen),
        **supply_values(chosen),
    )


def chosen_settings(supply: Feeding, settings: Mapping[str, object] | None) -> Mapping[str, Any]:
    """Checked settings of a drive, those of its supply among them."""
    names = {**supply.settings, **(settings or {})}
    rows: Any = [[name, value] for name, value in names.items()]
    return DRIVE_SETTINGS.convert(rows, "settings") if rows else DRIVE_SETTINGS.defaults


def link_duties(front_end: FrontEnd, volts: float, watts: float, *, uneven: bool) -> pd.DataFrame:
    """The DC link at 90, 100 and 110 % line voltage.

    Parameters
    ----------
    front_end : FrontEnd
    volts, watts : float
        Nominal line voltage, V, and rated DC-link power, W.
    uneven : bool
        Whether states with uneven pulses are accepted.

    Raises
    ------
    NoSolutionError
        The supply cannot feed the drive at one of them, or which state it takes is not certain.
    """
    link_volts = NO_LOAD_PER_LINE_VOLT * volts
    rows = {}
    for line in LINES_PCT:
        _certain(at_line(front_end, line), line, uneven)
        duty = link_duty(front_end, line)
        rows[line] = {
            "mean_volts": duty.mean_pct / 100.0 * link_volts,
            "lowest_volts": duty.lowest_pct / 100.0 * link_volts,
            "highest_volts": duty.highest_pct / 100.0 * link_volts,
            "ripple_volts": (duty.highest_pct - duty.lowest_pct) / 100.0 * link_volts,
            "reactor_volts": duty.reactor_pct / 100.0 * link_volts,
            "capacitor_amps": duty.capacitor_pct / 100.0 * watts / link_volts,
        }
    return pd.DataFrame.from_dict(rows, orient="index").rename_axis("line_pct")


def coils(front_end: FrontEnd, volts: float, watts: float, hz: float, *, uneven: bool) -> pd.DataFrame:
    """Line reactor, DC choke and filter at nominal and at 90 % line voltage; parameters as `link_duties`.

    Raises
    ------
    InputError
        The frequency is not above 0.
    NoSolutionError
        As `link_duties`.
    """
    nominal, low = (magnetics(front_end, volts, watts, hz, line) for line in (100.0, LINES_PCT[0]))
    for sized, line in ((nominal, 100.0), (low, LINES_PCT[0])):
        _certain(sized.state, line, uneven)
    weak = _devices(low)
    rows = {name: _figures(coil, weak[name], count) for name, (coil, count) in _devices(nominal).items()}
    if shunt := nominal.filter_shunt:
        rows["filter shunt"] |= {"capacitor_uf": 1e6 * shunt[1], "capacitor_volts": shunt[2]}
    columns = [*_COLUMNS, *(["capacitor_uf", "capacitor_volts"] if shunt else [])]
    return pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("device")


_COLUMNS: Final = (
    *("count", "mh", "rms_amps", "steady_amps"),
    *(f"amps_{order}" for order in SHOWN_ORDERS),
    *("peak_amps", "rms_amps_low", "peak_amps_low", "watts"),
)


def _devices(sized: Magnetics) -> dict[str, tuple[Coil, int]]:
    shunt = sized.filter_shunt
    found = {
        "line reactor": (sized.line_reactor, 1),
        "DC choke": (sized.choke, sized.front_end.bridges),
        "filter reactor": (sized.filter_reactor, 1),
        "filter shunt": (shunt[0] if shunt else None, 1),
    }
    return {name: (coil, count) for name, (coil, count) in found.items() if coil is not None}


def _figures(coil: Coil, low: tuple[Coil, int], count: int) -> dict[str, float]:
    return {
        "count": count,
        "mh": 1e3 * coil.henry,
        "rms_amps": coil.rms,
        "steady_amps": coil.steady,
        **{f"amps_{order}": coil.orders[order] for order in SHOWN_ORDERS},
        "peak_amps": coil.peak,
        "rms_amps_low": low[0].rms,
        "peak_amps_low": low[0].peak,
        "watts": coil.watts,
    }


def _certain(state: SteadyState, line: float, uneven: bool) -> None:
    if not uneven and (doubt := doubt_of(state)):
        raise NoSolutionError(f"at {line:g} % line voltage {doubt}")
