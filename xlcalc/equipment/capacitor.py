"""Stress of a capacitor bank by a distorted voltage, against IEEE 18, IEC 60831-1 and IEC 60871-1."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.orders_given import OrdersNotListed, gap_text, listed
from xlcalc.core.spectrum import Spectrum
from xlcalc.standards.loader import Limit, Origin, column_number, read_table
from xlcalc.standards.verdict import Judgement, Verdict

WAVEFORM_POINTS = 4_000

FUNDAMENTAL_VOLTAGE = "fundamental voltage"
RMS_VOLTAGE = "rms voltage"
PEAK_VOLTAGE = "peak voltage"
RMS_CURRENT = "rms current"
KVAR = "kvar"
CONTINUOUS = "continuous"


@dataclass(frozen=True)
class CapacitorRating:
    """Rating plate of a three-phase bank.

    Parameters
    ----------
    rated_volts : float
        Line-to-line rms, above 0 V.
    rated_var : float
        Three-phase, above 0 var.
    rated_hz : float
        Above 0 to 1000 Hz.

    Raises
    ------
    InputError
        A field is outside its range.
    """

    rated_volts: float
    rated_var: float
    rated_hz: float = 50.0

    def __post_init__(self) -> None:
        number("rated_volts", self.rated_volts, unit="V", above=0)
        number("rated_var", self.rated_var, unit="var", above=0)
        number("rated_hz", self.rated_hz, unit="Hz", above=0, most=1000)

    @property
    def rated_amps(self) -> float:
        """Line current at rated voltage and frequency, A."""
        return self.rated_var / (math.sqrt(3.0) * self.rated_volts)

    def current(self, line_volts: Spectrum, hz: float | None = None) -> Spectrum:
        """Line current that a voltage drives through the bank, A: ``I_h = j h (f/f_R) (V_h/V_R) I_R``.

        Parameters
        ----------
        line_volts : Spectrum
            Line-to-line voltage, V; or sqrt3 times the voltage to neutral, to which the angles refer.
        hz : float, optional
            Fundamental frequency, above 0 to 1000 Hz; the rated one where it is left out.

        Examples
        --------
        1200 kvar, 13.8 kV: 50.2 A at rated voltage, 20 % of it from 4 % of order 5 (by hand)

        >>> bank = CapacitorRating(13.8e3, 1.2e6, 60.0)
        >>> amps = bank.current(Spectrum.from_orders([(1, 13.8e3), (5, 552.0)])).magnitude
        >>> [round(float(amps[h - 1]), 2) for h in (1, 5)]
        [50.2, 10.04]
        """
        frequency = self.rated_hz if hz is None else number("hz", hz, unit="Hz", above=0, most=1000)
        per_volt = self.rated_amps / self.rated_volts * frequency / self.rated_hz
        return Spectrum(1j * line_volts.orders * per_volt * line_volts.phasors)


@dataclass(frozen=True)
class CapacitorStress:
    """Stress in percent of the rating.

    Parameters
    ----------
    rms_voltage_pct, rms_current_pct : float
        True rms, all orders.
    fundamental_voltage_pct : float
        The fundamental alone, which the ladder of the IEC standards limits by its duration.
    peak_voltage_pct : float
        Crest of the voltage over sqrt2 times the rated rms.
    kvar_pct : float
        rms voltage times rms current. The sum of the reactive powers of the orders is smaller.
    gap : str
        Which orders of the voltage were not given; empty where none lacks. The stress is then that of the
        orders given, and may fail but not pass.
    """

    rms_voltage_pct: float
    peak_voltage_pct: float
    rms_current_pct: float
    kvar_pct: float
    fundamental_voltage_pct: float
    gap: str = ""

    def of(self, quantity: str) -> float:
        """One of the five by the name it has in the table of limits."""
        values = {
            FUNDAMENTAL_VOLTAGE: self.fundamental_voltage_pct,
            RMS_VOLTAGE: self.rms_voltage_pct,
            PEAK_VOLTAGE: self.peak_voltage_pct,
            RMS_CURRENT: self.rms_current_pct,
            KVAR: self.kvar_pct,
        }
        if quantity not in values:
            raise InputError("quantity", quantity, "one of " + ", ".join(values))
        return values[quantity]


def capacitor_stress(
    bank: CapacitorRating,
    line_volts: Spectrum,
    hz: float | None = None,
    *,
    angles_known: bool = True,
    orders_not_listed: str = OrdersNotListed.NOT_GIVEN,
) -> CapacitorStress:
    """Stress of a bank by the voltage at its terminals.

    Parameters
    ----------
    bank : CapacitorRating
        Rating plate.
    line_volts : Spectrum
        Line-to-line voltage, V, with the fundamental.
    hz : float, optional
        Fundamental frequency; the rated one where it is left out.
    angles_known : bool
        False takes the peak as the sum of all amplitudes: the crests of all orders may coincide.
    orders_not_listed : str
        What the orders stand for that a `ListedSpectrum` does not list: "not given" or "zero". The
        fundamental is never taken as zero.

    Raises
    ------
    InputError
        The frequency is outside its range.

    Examples
    --------
    4 % of order 5 and 3 % of order 7 at rated voltage: 1.0012, 1.07, sqrt(1 + 0.2^2 + 0.21^2) and the product
    of the first and the third, by hand

    >>> bank = CapacitorRating(13.8e3, 1.2e6, 60.0)
    >>> volts = Spectrum.from_orders([(1, 13.8e3), (5, 552.0), (7, 414.0)])
    >>> stress = capacitor_stress(bank, volts, angles_known=False)
    >>> [round(stress.of(name), 1) for name in ("rms voltage", "peak voltage", "rms current", "kvar")]
    [100.1, 107.0, 104.1, 104.3]
    """
    volts = line_volts.rms / bank.rated_volts
    amps = bank.current(line_volts, hz).rms / bank.rated_amps
    if angles_known:
        peak = float(np.max(np.abs(line_volts.samples(WAVEFORM_POINTS)))) / math.sqrt(2.0)
    else:
        peak = float(np.sum(line_volts.magnitude))
    given = listed(line_volts, orders_not_listed)
    return CapacitorStress(
        rms_voltage_pct=100.0 * volts,
        peak_voltage_pct=100.0 * peak / bank.rated_volts,
        rms_current_pct=100.0 * amps,
        kvar_pct=100.0 * volts * amps,
        fundamental_voltage_pct=100.0 * line_volts.fundamental / bank.rated_volts,
        gap=gap_text(given, range(1, given.size + 1), "voltage"),
    )


def capacitor_standards() -> tuple[str, ...]:
    """Names that `judge_capacitor` understands: standards with their edition, and without for the latest."""
    dated = dict.fromkeys(Origin.of_row(row).document for row in read_table("capacitors"))
    return (*dated, *_latest())


def capacitor_durations() -> tuple[str, ...]:
    """How long a voltage may last, in the words of the table; the longest first."""
    return tuple(dict.fromkeys(row["duration"] for row in read_table("capacitors")))


def judge_capacitor(stress: CapacitorStress, standard: str, duration: str = CONTINUOUS) -> Judgement:
    """Stress against the limits of one standard and edition; a stress without a limit is not judged.

    The limits of IEEE 18 are meant for contingencies, not as a continuous design basis. The IEC standards
    permit a fundamental voltage above the rated one for a limited time only.

    Parameters
    ----------
    stress : CapacitorStress
        From `capacitor_stress`.
    standard : str
        One of `capacitor_standards`.
    duration : str
        How long the voltage lasts, one of `capacitor_durations` that the standard has; currents are judged as
        continuous.

    Raises
    ------
    InputError
        Unknown standard, or a duration that it does not have.

    Examples
    --------
    >>> stress = CapacitorStress(105.0, 118.0, 120.0, 130.0, fundamental_voltage_pct=104.0)
    >>> judge_capacitor(stress, "IEEE 18-2002").word
    'PASS'
    >>> [judge_capacitor(stress, "IEC 60831-1", d).word for d in ("continuous", "8 h in 24 h")]
    ['FAIL', 'PASS']
    """
    dated = _latest().get(standard, standard)
    rows = [row for row in read_table("capacitors") if Origin.of_row(row).document == dated]
    if not rows:
        raise InputError("standard", standard, "one of " + ", ".join(capacitor_standards()))
    known = list(dict.fromkeys(row["duration"] for row in rows))
    if duration not in known:
        raise InputError("duration", duration, f"one that {standard} has: " + ", ".join(known))
    verdicts = []
    for row in rows:
        if row["quantity"] == FUNDAMENTAL_VOLTAGE and row["duration"] != duration:
            continue
        limit = Limit(column_number(row, "limit_pct"), Origin.of_row(row))
        quantity = row["quantity"]
        verdicts.append(
            Verdict.against(quantity, None, stress.of(quantity), limit, at_least=bool(stress.gap))
        )
    return Judgement(tuple(verdicts), gaps=(stress.gap,) if stress.gap else ())


def _latest() -> dict[str, str]:
    """The document in force by the name of each IEC standard without an edition."""
    origins = (Origin.of_row(row) for row in read_table("capacitors"))
    return {o.standard: o.document for o in origins if o.standard.startswith("IEC") and not o.superseded_by}
