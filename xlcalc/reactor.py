"""Reactors and textbook rectifier relations: percent and henry, overlap, direct voltage, notch depth.

The overlap relations assume a smooth, continuous direct current and one commutation at a time (overlap of
60 degrees or less). A capacitive DC link without a large choke needs the waveform solver instead.
"""

from __future__ import annotations

import math

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError, NoSolutionError

DIODE_BRIDGE_FACTOR = 3.0 * math.sqrt(2.0) / math.pi
"""Mean direct voltage of an ideal six-pulse bridge per volt of line-to-line rms."""

MAX_OVERLAP_DEG = 60.0
MAX_OVERLAP_X_PCT = 150.0 / math.pi
"""Reactance on the fundamental-current base at which the overlap reaches 60 degrees (47.7 %)."""


def reactor_henry(pct: float, volts: float, amps: float, hz: float) -> float:
    """Inductance per phase of a three-phase line reactor of given percent.

    ``L = z V / (sqrt3 2 pi f I)``: at rated fundamental current the drop is z percent of the phase voltage.

    Parameters
    ----------
    pct : float
        Percent impedance, above 0 to 100 %.
    volts : float
        Line-to-line rms voltage, V.
    amps : float
        Rated fundamental current, A rms.
    hz : float
        Frequency, above 0 to 1000 Hz.

    Returns
    -------
    float
        Henry per phase.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    Percent formula of general use (460 V, 60 Hz, 3 %, 4 A and 12 A; computed):

    >>> round(1000 * reactor_henry(3, 460, 4, 60), 3), round(1000 * reactor_henry(3, 460, 12, 60), 3)
    (5.284, 1.761)
    """
    z = number("pct", pct, unit="%", above=0, most=100) / 100.0
    return z * _reactance_base(volts, amps, hz)


def reactor_percent(henry: float, volts: float, amps: float, hz: float) -> float:
    """Percent impedance of a three-phase line reactor; inverse of `reactor_henry`.

    Parameters
    ----------
    henry : float
        Inductance per phase, above 0 H.
    volts, amps, hz : float
        Line-to-line V rms, rated fundamental A rms, Hz.

    Raises
    ------
    InputError
        An argument is outside its range, or the reactor would exceed 100 %.

    Examples
    --------
    >>> round(reactor_percent(5.283e-3, 460, 4, 60), 3)
    3.0
    """
    inductance = number("henry", henry, unit="H", above=0)
    percent = 100.0 * inductance / _reactance_base(volts, amps, hz)
    if percent > 100.0:
        raise InputError("henry", henry, f"an inductance of at most 100 % (this one is {percent:.3g} %)")
    return percent


def reactor_drop_volts(pct: float, volts: float) -> float:
    """Voltage across one phase of a reactor at rated current, V rms: percent of the phase voltage.

    Examples
    --------
    5 % at 25 kV (teaching material prints 721 V):

    >>> round(reactor_drop_volts(5, 25e3), 1)
    721.7
    """
    return number("pct", pct, unit="%", above=0, most=100) / 100 * _volts(volts) / math.sqrt(3.0)


def commutation_overlap_deg(
    reactance_ohm: float, dc_amps: float, volts: float, delay_deg: float = 0.0
) -> float:
    """Overlap angle u of a six-pulse bridge: ``cos(a) - cos(a + u) = 2 X I_d / (sqrt2 V)``.

    Parameters
    ----------
    reactance_ohm : float
        Commutating reactance per phase, 0 ohm or more.
    dc_amps : float
        Smooth direct current, 0 A or more.
    volts : float
        Line-to-line rms voltage, V.
    delay_deg : float
        Firing delay, 0 to 180 degrees; 0 for diodes.

    Raises
    ------
    InputError
        An argument is outside its range.
    NoSolutionError
        The commutation does not end within 60 degrees, or not before 180 degrees from the crossing.

    Examples
    --------
    480 V, 100 A, 0.10663 ohm (computed):

    >>> round(commutation_overlap_deg(0.10663, 100, 480), 2)
    14.4
    """
    x = number("reactance_ohm", reactance_ohm, unit="ohm", least=0)
    current = number("dc_amps", dc_amps, unit="A", least=0)
    delay = math.radians(number("delay_deg", delay_deg, unit="degrees", least=0, most=180))
    end = math.cos(delay) - math.sqrt(2.0) * x * current / _volts(volts)
    if end < -1.0:
        raise NoSolutionError("the commutation is not over 180 degrees after the voltage crossing")
    overlap = math.degrees(math.acos(end) - delay)
    if overlap > MAX_OVERLAP_DEG + 1e-9:
        raise NoSolutionError(
            f"the overlap would be {overlap:.1f} degrees; the relation holds up to 60 degrees, "
            "where the next commutation begins before this one ends"
        )
    return overlap


def overlap_deg(x_pct: float, load_pct: float = 100.0) -> float:
    """Overlap angle of a diode bridge from percent reactance: ``cos(u) = 1 - pi x / 3``.

    Parameters
    ----------
    x_pct : float
        Commutating reactance, percent on the base of the rated fundamental line current of a smooth
        direct current (``I_1 = (sqrt6/pi) I_d``), 0 to 47.7 % at full load.
    load_pct : float
        Direct current in percent of rated, above 0 to 200 %.

    Raises
    ------
    InputError
        An argument is outside its range, or the overlap would exceed 60 degrees.

    Examples
    --------
    >>> round(overlap_deg(3), 2)
    14.4
    """
    x = _loaded_reactance(x_pct, load_pct)
    return math.degrees(math.acos(1.0 - math.pi * x / 3.0))


def bridge_dc_volts(volts: float, reactance_ohm: float, dc_amps: float, delay_deg: float = 0.0) -> float:
    """Mean direct voltage: ``V_d = (3 sqrt2/pi) V cos(a) - (3/pi) X I_d``.

    Parameters
    ----------
    volts, reactance_ohm, dc_amps, delay_deg : float
        As in `commutation_overlap_deg`.

    Raises
    ------
    InputError, NoSolutionError
        As in `commutation_overlap_deg`.

    Examples
    --------
    >>> round(bridge_dc_volts(480, 0.10663, 100), 2)
    638.05
    """
    commutation_overlap_deg(reactance_ohm, dc_amps, volts, delay_deg)
    ideal = DIODE_BRIDGE_FACTOR * volts * math.cos(math.radians(delay_deg))
    return ideal - 3.0 / math.pi * reactance_ohm * dc_amps


def dc_volts(volts: float, x_pct: float, load_pct: float = 100.0) -> float:
    """Mean direct voltage of a diode bridge from percent reactance: ``V (3 sqrt2/pi - x load / sqrt2)``.

    Parameters
    ----------
    volts : float
        Line-to-line rms voltage, V.
    x_pct, load_pct : float
        As in `overlap_deg`.

    Raises
    ------
    InputError
        An argument is outside its range, or the overlap would exceed 60 degrees.

    Examples
    --------
    >>> round(dc_volts(480, 3), 2)
    638.05
    """
    x = _loaded_reactance(x_pct, load_pct)
    return _volts(volts) * (DIODE_BRIDGE_FACTOR - x / math.sqrt(2.0))


def notch_depth_pct(source_pct: float, reactor_pct: float) -> float:
    """Depth of a commutation notch at the bus between source and reactor, percent of the voltage before it.

    The divider ``L_s / (L_s + L_r)`` (IEEE 519-1992; recalled).

    Parameters
    ----------
    source_pct : float
        Reactance on the source side of the bus, 0 to 100 %.
    reactor_pct : float
        Reactance between the bus and the bridge, same base, 0 to 100 %.

    Raises
    ------
    InputError
        An argument is outside its range, or both are zero.

    Examples
    --------
    >>> notch_depth_pct(1, 3)
    25.0
    """
    source = number("source_pct", source_pct, unit="%", least=0, most=100)
    reactor = number("reactor_pct", reactor_pct, unit="%", least=0, most=100)
    if source + reactor == 0.0:
        raise InputError("source_pct", source_pct, "source_pct and reactor_pct not both zero")
    return 100.0 * source / (source + reactor)


def source_percent(short_circuit_va: float, rated_va: float) -> float:
    """Impedance of the supply in percent on the base of a drive: ``100 S_rated / S_sc``.

    Parameters
    ----------
    short_circuit_va : float
        Three-phase short-circuit level at the drive's terminals, above 0 VA.
    rated_va : float
        Base of the drive, above 0 VA.

    Raises
    ------
    InputError
        An argument is outside its range, or the drive is larger than the short-circuit level.

    Examples
    --------
    >>> source_percent(20e6, 200e3)
    1.0
    """
    level = number("short_circuit_va", short_circuit_va, unit="VA", above=0)
    rated = number("rated_va", rated_va, unit="VA", above=0)
    if rated > level:
        raise InputError("rated_va", rated_va, f"at most the short-circuit level of {level:g} VA")
    return 100.0 * rated / level


def _volts(volts: float) -> float:
    return number("volts", volts, unit="V", above=0)


def _reactance_base(volts: float, amps: float, hz: float) -> float:
    """Inductance of 100 %, H."""
    current = number("amps", amps, unit="A", above=0)
    frequency = number("hz", hz, unit="Hz", above=0, most=1000)
    return _volts(volts) / (math.sqrt(3.0) * 2.0 * math.pi * frequency * current)


def _loaded_reactance(x_pct: float, load_pct: float) -> float:
    load = number("load_pct", load_pct, unit="%", above=0, most=200) / 100.0
    most = MAX_OVERLAP_X_PCT / load
    valid = f"0 to {most:.4g} % (beyond it the overlap exceeds 60 degrees and the relation no longer holds)"
    x = number("x_pct", x_pct, unit="%")
    if not 0.0 <= x <= most * (1 + 1e-12):
        raise InputError("x_pct", x_pct, valid)
    return x / 100.0 * load
