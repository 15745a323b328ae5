"""One drive on one supply."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import KW_ONLY, dataclass, fields, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import pandas as pd

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import Spectrum
from xlcalc.face.front_end import chosen_settings, coils, front_end_of, link_duties
from xlcalc.rectifier.doubts import doubt_of
from xlcalc.rectifier.drive import FrontEnd, solve_front_end
from xlcalc.rectifier.trace import waveforms
from xlcalc.schema.assembly.drive import INPUT_AMPS, watts_of
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES, accepts_uneven
from xlcalc.schema.inputs.quantities import HARMONIC_ORDER
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.inputs.supply import ordinal

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Settings = Mapping[str, object]
WAVEFORM_POINTS = 360


@dataclass(frozen=True, repr=False)
class Drive:
    """A drive, or several alike, of a schedule.

    Names, ranges and defaults are those of the columns of a drive schedule; None leaves the default of the
    worksheet functions. Percent values are on the rated power of the DC link.

    Parameters
    ----------
    tag : str
        Name, each once in a study.
    kw, hp, input_amps : float
        Rated shaft output, or rated input current in A rms; one of the three.
    pulses : int
        A multiple of 6 from 6 to 48.
    line_reactor_pct, dc_choke_pct : float or str, optional
        0 to 300 %, or what a nameplate says: "yes", "no", "unknown", "3 % equivalent"; none by default.
    load_pct : float, optional
        DC-link power in percent of the rated one, 1 to 200; 100 by default.
    quantity : int, optional
        How many of them, in step; 1 by default.
    bus : str, optional
        Bus of the plant that feeds it.
    efficiency_pct : float, optional
        Shaft output per DC-link power, 50 to 100; typical for the rating by default.
    volts : float, optional
        Line voltage of `input_amps` where the drive stands on no plant.
    filter_capacitor_pct, filter_reactor_pct, filter_reactor_xr, filter_tuned_order : float, optional
    filter_shunt_resistance_pct, filter_damping_pct : float, optional
        Passive filter ahead of the drive; none by default.
    phase_shift_deg : float, optional
        What the drive's own transformer adds to the phase shift of every bridge, -180 to 180; at 6 pulses a
        drive without it has no transformer.

    Raises
    ------
    InputError
        A value of the wrong kind or outside its range, or not exactly one of `kw`, `hp` and `input_amps`.

    Examples
    --------
    >>> Drive("P-101", kw=200, pulses=6, line_reactor_pct=3)
    Drive('P-101', pulses=6, kw=200, line_reactor_pct=3)
    >>> Drive("P-101", kw=200, pulses=7)
    Traceback (most recent call last):
    xlcalc.core.errors.InputError: pulses of drive P-101 is 7; valid: a multiple of 6 from 6 to 48
    """

    tag: str
    _: KW_ONLY
    pulses: int
    kw: float | None = None
    hp: float | None = None
    input_amps: float | None = None
    line_reactor_pct: float | str | None = None
    dc_choke_pct: float | str | None = None
    load_pct: float | None = None
    quantity: int | None = None
    bus: str | None = None
    efficiency_pct: float | None = None
    volts: float | None = None
    filter_capacitor_pct: float | None = None
    filter_reactor_pct: float | None = None
    filter_reactor_xr: float | None = None
    filter_tuned_order: float | None = None
    filter_shunt_resistance_pct: float | None = None
    filter_damping_pct: float | None = None
    phase_shift_deg: float | None = None

    def __post_init__(self) -> None:
        rated = [f"{value} {unit}" for unit, value in self._ratings.items()]
        if len(rated) != 1:
            told = " and ".join(rated) or None
            raise InputError(f"kw of drive {self.tag}", told, "one of kw, hp and input_amps", wrong_kind=True)
        _ = self.values

    @cached_property
    def values(self) -> Mapping[str, Any]:
        """Its row of a drive schedule without the bus: checked values by column, with the defaults."""
        ((unit, rating),) = self._ratings.items()
        row = {**in_columns(given(self)), "rating": rating, "unit": unit}
        return {
            field.name: field.convert(row.get(field.name), f"{field.name} of drive {self.tag}")
            for field in DRIVES.fields
            if field.name != "bus"
        }

    @property
    def rated_watts(self) -> float:
        """Rated power of the DC link of one of them, W."""
        return watts_of({**self.values, "bus": self.bus}, self.volts or 0.0)

    @property
    def _ratings(self) -> dict[str, float]:
        named = {"kW": self.kw, "hp": self.hp, INPUT_AMPS: self.input_amps}
        return {unit: rating for unit, rating in named.items() if rating is not None}

    def __repr__(self) -> str:
        return shown(self)


@dataclass(frozen=True, repr=False, kw_only=True)
class Supply:
    """What a single drive stands on.

    Parameters
    ----------
    kv : float
        Line-to-line voltage, kV.
    mva : float
        Three-phase short-circuit level at the drive, MVA.
    xr : float, optional
        X/R; 10 by default.
    unbalance_pct, unbalance_deg : float, optional
        Negative-sequence voltage in percent of the positive one, and its angle; none by default.
    background : mapping of int to float or (float, float), optional
        Distortion of the supply: percent by order, or percent and degrees (cosine reference).

    Raises
    ------
    InputError
        A value of the wrong kind or outside its range.

    Examples
    --------
    >>> Supply(kv=0.48, mva=25, background={5: 1.5, 7: (0.8, 180)})
    Supply(kv=0.48, mva=25, background={5: 1.5, 7: (0.8, 180)})
    """

    kv: float
    mva: float
    xr: float | None = None
    unbalance_pct: float | None = None
    unbalance_deg: float | None = None
    background: Mapping[int, float | tuple[float, float]] | None = None

    def __post_init__(self) -> None:
        for name in ("kv", "mva"):
            _UTILITY[name].convert(getattr(self, name), f"{name} of the supply")
        for order in self.background or {}:
            HARMONIC_ORDER.convert(order, "order in background of the supply")

    @property
    def settings(self) -> dict[str, object]:
        """Its settings of the worksheet functions."""
        of_order: dict[str, object] = {}
        for order, level in (self.background or {}).items():
            percent, degrees = level if isinstance(level, tuple) else (level, 0.0)
            of_order[f"background {ordinal(order)} pct"] = percent
            of_order[f"background {ordinal(order)} deg"] = degrees
        own = given(self)
        named = {"source x/r": "xr", "unbalance pct": "unbalance_pct", "unbalance deg": "unbalance_deg"}
        return {**{name: own[field] for name, field in named.items() if field in own}, **of_order}

    def __repr__(self) -> str:
        return shown(self)


class DriveSolution:
    """The periodic steady state of one drive on a supply.

    Figures are those of one unit, in the phase whose current is most distorted where phases differ.
    """

    def __init__(self, drive: Drive, supply: Supply, front_end: FrontEnd, uneven: bool = False) -> None:
        self.drive = drive
        self.supply = supply
        self.front_end = front_end
        self.state = solve_front_end(front_end)
        self._uneven = uneven
        self._volts = 1e3 * supply.kv
        self._amps = drive.rated_watts / self._volts
        self._phase = self.state.worst_phase

    @property
    def current(self) -> Spectrum:
        """Line current, A rms by order."""
        return Spectrum(self._amps * self.state.line_phasors[self._phase])

    @property
    def spectrum(self) -> pd.DataFrame:
        """Line current by order: `amps` rms, `percent` of the fundamental, `angle_deg`."""
        current = self.current
        columns = {"amps": current.magnitude, "percent": current.percent, "angle_deg": current.angle_deg}
        return pd.DataFrame(columns, index=pd.Index(current.orders, name="order"))

    @property
    def thd_pct(self) -> float:
        """Total harmonic distortion of the line current, percent of the fundamental, orders 2 to 50."""
        return self.current.thd_pct

    @property
    def fundamental_amps(self) -> float:
        """Fundamental of the line current, A rms."""
        return self.current.fundamental

    @property
    def rms_amps(self) -> float:
        """True rms of the line current, A, all orders."""
        return float(self._amps * self.state.line_rms[self._phase])

    @property
    def k_factor(self) -> float:
        """K-factor of the line current as UL 1561 defines it."""
        return self.current.k_factor()

    @property
    def true_pf(self) -> float:
        """Power over apparent power, against the voltage ahead of the source reactance."""
        return self.state.source_power_factor

    @property
    def displacement_pf(self) -> float:
        """Cosine of the angle between the fundamentals, against the same voltage."""
        return self.state.source_displacement_power_factor

    @property
    def dc_volts_mean(self) -> float:
        """Mean voltage of the DC link, V."""
        return self._volts * self.state.dc_volts_mean

    def waveform(self, points: int = WAVEFORM_POINTS) -> pd.DataFrame:
        """One cycle: columns `amps` of the line current and `volts` to neutral by `degrees`.

        Parameters
        ----------
        points : int
            4 or more, evenly over the cycle.
        """
        degrees, current, volts = waveforms(self.state, points)
        columns = {"amps": self._amps * current[self._phase], "volts": self._volts * volts[self._phase]}
        return pd.DataFrame(columns, index=pd.Index(degrees, name="degrees"))

    def link_duty(self) -> pd.DataFrame:
        """The DC link at 90, 100 and 110 % line voltage (`line_pct`), the load keeping its power, V and A.

        `reactor_volts` is the mean voltage that the line reactor costs, `capacitor_amps` the rms current of
        the bridges in the capacitors, without what the inverter adds.

        Raises
        ------
        NoSolutionError
            The supply cannot feed the drive at one of them, or which state it takes is not certain.

        Examples
        --------
        >>> drive = Drive("P-101", kw=200, pulses=6, line_reactor_pct=3)
        >>> solve(drive, Supply(kv=0.48, mva=25)).link_duty()["mean_volts"].round(1).to_dict()
        {90.0: 564.4, 100.0: 631.2, 110.0: 697.8}
        """
        return link_duties(self.front_end, self._volts, self.drive.rated_watts, uneven=self._uneven)

    def magnetics(self, *, hz: float = 60.0) -> pd.DataFrame:
        """What orders line reactor, DC choke and filter: millihenry, amperes, losses, one row per device.

        Of one coil in the phase or bridge that carries most, at this load; `steady_amps` is the fundamental,
        of a choke the mean; the columns with `low` hold at 90 % line voltage; `watts` are those of all coils
        in the resistance that X/R states.

        Parameters
        ----------
        hz : float
            Frequency of the supply.

        Raises
        ------
        InputError
            The frequency is not above 0.
        NoSolutionError
            As `link_duty`.

        Examples
        --------
        0.03 x 480^2 / 75000 / (2 pi 60) henry, by hand:

        >>> drive = Drive("P1", kw=75, efficiency_pct=100, pulses=6, line_reactor_pct=3)
        >>> solve(drive, Supply(kv=0.48, mva=25)).magnetics()["mh"].round(4).to_dict()
        {'line reactor': 0.2445}
        """
        watts = self.drive.rated_watts
        return coils(self.front_end, self._volts, watts, hz, uneven=self._uneven)

    def plot(self) -> Figure:
        """Waveform and spectrum as a matplotlib figure (extra `plot`)."""
        from xlcalc.face.pictures import drive_figure

        title = f"{self.drive.tag}: THD {self.thd_pct:.1f} %"
        return drive_figure(title, self.waveform(), self.spectrum)

    def __repr__(self) -> str:
        return (
            f"<{self.drive.tag}: THD {self.thd_pct:.1f} %, {self.fundamental_amps:.4g} A fundamental, "
            f"{self.rms_amps:.4g} A rms, true power factor {self.true_pf:.3f}>"
        )


def solve(drive: Drive, supply: Supply, settings: Settings | None = None) -> DriveSolution:
    """The waveform and spectrum that a drive draws from a supply.

    Parameters
    ----------
    drive : Drive
        One unit of it; the bus means nothing here.
    supply : Supply
    settings : mapping of str to value, optional
        Names of the range `settings` of the worksheet functions, such as ``{"dc capacitance pu": 0.2}``.

    Raises
    ------
    InputError
        A value outside its range, or values that do not fit each other.
    NoSolutionError
        The supply cannot feed the drive, or which state it takes is not certain.

    Examples
    --------
    >>> solution = solve(Drive("P-101", kw=200, pulses=6, line_reactor_pct=3), Supply(kv=0.48, mva=25))
    >>> solution
    <P-101: THD 37.2 %, 270 A fundamental, 288.1 A rms, true power factor 0.908>
    >>> solution.spectrum.percent.loc[[5, 7, 11]].round(1).tolist()
    [34.6, 10.9, 6.8]
    """
    drive = drive if drive.volts or drive.input_amps is None else replace(drive, volts=1e3 * supply.kv)
    front_end = front_end_of(drive, supply, settings)
    uneven = accepts_uneven(chosen_settings(supply, settings))
    solution = DriveSolution(drive, supply, front_end, uneven)
    doubt = doubt_of(solution.state)
    if doubt and not uneven:
        raise NoSolutionError(f"{doubt}. The setting 'uneven pulses' = show gives the figures anyway")
    return solution


def given(record: object) -> dict[str, Any]:
    """Fields of a dataclass that are not None, by name."""
    values = {field.name: getattr(record, field.name) for field in fields(record)}  # type: ignore[arg-type]
    return {name: value for name, value in values.items() if value is not None}


def in_columns(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values by the names that sheets and files have: `filter_reactor_xr` is "filter reactor x/r"."""
    return {name.replace("_xr", "_x/r").replace("_", " "): value for name, value in values.items()}


def shown(record: object) -> str:
    """The call that makes a record, without what was left out; a tag or name goes first."""
    values = given(record)
    first = [repr(values.pop(name)) for name in ("tag", "name") if name in values]
    named = [f"{name}={value!r}" for name, value in values.items()]
    return f"{type(record).__name__}({', '.join([*first, *named])})"


_UTILITY: Mapping[str, Field] = {
    field.name.removeprefix("utility "): field for field in SITE.fields if field.name.startswith("utility ")
}
