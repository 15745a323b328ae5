"""Commutation notches at the bus ahead of a converter: depth and area, and the classes of IEEE 519."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.standards.loader import Limit, Origin, column_number, read_table, rows_of_edition
from xlcalc.standards.verdict import Judgement, Verdict

DEPTH = "notch depth"
AREA = "notch area"
AREA_UNIT = "V us"
NOTCH_EDITION = "2014"
"""The latest edition of which anything could be read."""
CONDUCTS = 1e-6
"""Share of the largest current above which a phase counts as conducting; computed waveforms have zeros."""

PAIRS = (frozenset((0, 1)), frozenset((1, 2)), frozenset((2, 0)))
"""Phases of the line-to-line voltages ab, bc, ca."""

_FEWEST_POINTS = 720

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Notch:
    """One commutation notch in a line-to-line voltage.

    Parameters
    ----------
    depth_pct : float
        Deviation over the line-to-line voltage that would be there without the commutation, percent, the
        largest ratio in the notch. The divider L_s / (L_s + L_r).
    crest_depth_pct : float
        Largest deviation over the crest of the nominal voltage, percent. For diodes, whose commutation starts
        at the zero crossing, far below `depth_pct`.
    area_vs : float
        Time integral of the deviation, V s.
    width_s : float
        Duration, s.
    deepest_at : int
        Point of the cycle where it is deepest; -1 where there is no waveform.
    """

    depth_pct: float
    crest_depth_pct: float
    area_vs: float
    width_s: float
    deepest_at: int = -1


def textbook_notch(source_henry: float, reactor_henry: float, dc_amps: float, notch_volts: float) -> Notch:
    """Notch of a controlled converter with smooth direct current (IEEE 519-1992; recalled).

    ``V_N = e L_s / (L_s + L_r)``, ``t_N = 2 (L_s + L_r) I_d / e``, ``A_N = V_N t_N = 2 I_d L_s``. It
    takes e as constant; for diodes e starts near zero, so that of this result only the divider ratio and the
    area, which holds for any shape of e, carry over.

    Parameters
    ----------
    source_henry, reactor_henry : float
        Inductance per phase on either side of the bus, 0 H or more, not both zero.
    dc_amps : float
        Direct current, above 0 A.
    notch_volts : float
        e, the line-to-line voltage just before the notch, above 0 V.

    Returns
    -------
    Notch
        `crest_depth_pct` is relative to e, the only voltage known here.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    25 uH and 75 uH, 100 A, 600 V: a quarter deep, 2 x 100 A x 25 uH, 33.3 us (by hand)

    >>> notch = textbook_notch(25e-6, 75e-6, 100.0, 600.0)
    >>> round(notch.depth_pct, 9), round(1e6 * notch.area_vs), round(1e6 * notch.width_s, 1)
    (25.0, 5000, 33.3)
    """
    source = number("source_henry", source_henry, unit="H", least=0)
    reactor = number("reactor_henry", reactor_henry, unit="H", least=0)
    current = number("dc_amps", dc_amps, unit="A", above=0)
    before = number("notch_volts", notch_volts, unit="V", above=0)
    total = source + reactor
    if total == 0.0:
        raise InputError("source_henry", source_henry, "source_henry and reactor_henry not both zero")
    depth = 100.0 * source / total
    return Notch(depth, depth, 2.0 * current * source, 2.0 * total * current / before)


def notches(
    emf: FloatArray, volts: FloatArray, currents: FloatArray, hz: float, nominal_volts: float
) -> tuple[Notch, ...]:
    """Notches in the computed waveform of a bus ahead of one six-pulse bridge, in the order of the cycle.

    A commutation is where all three phases conduct; its deviation is the difference between the EMF and the
    bus in the line-to-line voltage of the two phases that change.

    Parameters
    ----------
    emf, volts, currents : array of float, shape (3, n)
        EMF of the source and bus voltage to neutral (V), line current of the bridge (A): one cycle of n
        equally spaced points, 720 or more. The width is known to one point; 20 000 points are recommended.
    hz : float
        Fundamental frequency, above 0 to 1000 Hz.
    nominal_volts : float
        Nominal line-to-line rms voltage, above 0 V.

    Returns
    -------
    tuple of Notch
        Empty where the current of each pulse ends before the next begins: the bus is then flattened at its
        crests, but not notched.

    Raises
    ------
    InputError
        An argument is outside its range or of another shape, or one commutation follows the other without a
        gap, so that they cannot be told from the currents.
    """
    shape = np.shape(currents)
    if len(shape) != 2 or shape[0] != 3 or shape[1] < _FEWEST_POINTS:
        raise InputError("currents", f"of shape {shape}", f"3 rows of {_FEWEST_POINTS} points or more")
    for name, wave in (("emf", emf), ("volts", volts)):
        if np.shape(wave) != shape:
            raise InputError(name, f"of shape {np.shape(wave)}", f"of shape {shape}, as the currents")
    threshold = CONDUCTS * float(np.max(np.abs(currents)))
    everywhere = np.all(np.abs(currents) > threshold, axis=0)
    if np.all(everywhere):
        raise InputError("currents", "of all phases at every point", "with times when one phase has none")
    commutating = np.zeros(shape, bool)
    for first, count in _runs(everywhere):
        points = (first + np.arange(count)) % shape[1]
        begin, end = currents[:, points[0]], currents[:, points[-1]]
        leaving, entering = int(np.argmin(np.abs(end))), int(np.argmin(np.abs(begin)))
        if leaving == entering:
            leaving, entering = int(np.argmin(end - begin)), int(np.argmax(end - begin))
        commutating[PAIRS.index(frozenset((leaving, entering))), points] = True
    lines = [wave - np.roll(wave, -1, axis=0) for wave in (emf, volts)]
    return line_notches(lines[0], lines[1], commutating, hz, nominal_volts)


def line_notches(
    undisturbed: FloatArray,
    volts: FloatArray,
    commutating: BoolArray,
    hz: float,
    nominal_volts: float,
    others: BoolArray | None = None,
) -> tuple[Notch, ...]:
    """Notches in the line-to-line voltages of a bus, whoever makes them, in the order of the cycle.

    Parameters
    ----------
    undisturbed, volts : array of float, shape (3, n)
        Line-to-line voltages ab, bc, ca that would be there without any commutation, and those that are
        there, V: one cycle of n equally spaced points.
    commutating : array of bool, shape (3, n)
        Whether a commutation takes place that notches this voltage. Each uninterrupted run is one notch.
    hz, nominal_volts
        As in `notches`.
    others : array of bool, shape (n,), optional
        When commutations of another phase shift take place. They deviate the voltage at the zero crossing
        where a notch starts.

    Returns
    -------
    tuple of Notch
        The depth is the largest ratio of the deviation to the voltage that would be there, or to that at the
        start of the notch where it is larger: a notch that another phase shift cuts may last over a zero
        crossing. Points whose deviation is less than half of the largest do not count, because the ratio at a
        zero crossing is that of two small numbers, nor do those of `others`. Where they leave no point, the
        ratio is that at the largest deviation.
    """
    frequency = number("hz", hz, unit="Hz", above=0, most=1000)
    nominal = number("nominal_volts", nominal_volts, unit="V", above=0)
    step = 1.0 / (frequency * volts.shape[1])
    crest = math.sqrt(2.0) * nominal
    own = np.ones(volts.shape[1], bool) if others is None else ~others
    found = []
    for pair in range(3):
        for first, count in _runs(commutating[pair]):
            if count > 1:
                points = (first + np.arange(count)) % volts.shape[1]
                there, left = undisturbed[pair, points], volts[pair, points]
                found.append((first, _notch(there, left, own[points], first, step, crest)))
    return tuple(notch for _, notch in sorted(found, key=lambda item: item[0]))


def deepest(found: tuple[Notch, ...]) -> Notch:
    """Largest depth, area and width of several notches, each by itself; all zero where there is none."""
    if not found:
        return Notch(0.0, 0.0, 0.0, 0.0)
    return Notch(
        max(notch.depth_pct for notch in found),
        max(notch.crest_depth_pct for notch in found),
        max(notch.area_vs for notch in found),
        max(notch.width_s for notch in found),
    )


def notch_classes() -> tuple[str, ...]:
    """Classes of the table: special (hospitals, airports), general, dedicated (converter load only)."""
    return tuple(dict.fromkeys(row["system_class"] for row in read_table("ieee519_notch")))


@dataclass(frozen=True)
class NotchLimits:
    """What a class permits: depth, voltage THD that goes with it, and area."""

    depth: Limit
    thd: Limit
    area: Limit


def notch_limits(system_class: str, nominal_volts: float, edition: str = NOTCH_EDITION) -> NotchLimits:
    """Limits of one class; that of the area is scaled by the voltage over 480 V.

    Parameters
    ----------
    system_class : str
        One of `notch_classes`.
    nominal_volts : float
        Line-to-line rms voltage of the bus, above 0 V.
    edition : str
        Of IEEE 519: "1992", or "2014" and "2022", where they are informative.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    >>> limits = notch_limits("special", 240.0, "2014")
    >>> limits.depth.value, limits.thd.value, limits.area.value
    (10.0, 3.0, 8200.0)
    """
    volts = number("nominal_volts", nominal_volts, unit="V", above=0)
    for row in rows_of_edition("ieee519_notch", edition):
        if row["system_class"] == system_class:
            origin = Origin.of_row(row)
            area = column_number(row, "area_vus") * volts / column_number(row, "at_volts")
            return NotchLimits(
                Limit(column_number(row, "depth_pct"), origin),
                Limit(column_number(row, "thd_pct"), origin),
                Limit(area, origin, AREA_UNIT),
            )
    raise InputError("system_class", system_class, "one of " + ", ".join(notch_classes()))


def judge_notch(
    notch: Notch, system_class: str, nominal_volts: float, edition: str = NOTCH_EDITION
) -> Judgement:
    """Depth and area against one class.

    Parameters
    ----------
    notch : Notch
        From `notches` or `textbook_notch`.
    system_class, nominal_volts, edition
        As in `notch_limits`.

    Raises
    ------
    InputError
        An argument is outside its range.

    Examples
    --------
    >>> judgement = judge_notch(Notch(25.0, 25.0, 5e-3, 3.3e-5), "general", 480.0)
    >>> judgement.word, [verdict.limit for verdict in judgement.verdicts]
    ('FAIL', [20.0, 22800.0])
    """
    limits = notch_limits(system_class, nominal_volts, edition)
    return Judgement(
        (
            Verdict.against(DEPTH, None, notch.depth_pct, limits.depth),
            Verdict.against(AREA, None, 1e6 * notch.area_vs, limits.area),
        )
    )


def _runs(flags: BoolArray) -> list[tuple[int, int]]:
    """First point and length of each uninterrupted run around the cycle."""
    if np.all(flags):
        return [(0, flags.size)]
    begins = np.flatnonzero(flags & ~np.roll(flags, 1))
    gaps = np.flatnonzero(~flags & np.roll(flags, 1))
    ends = np.searchsorted(gaps, begins)
    return [
        (int(first), int((gaps[k % gaps.size] - first) % flags.size))
        for first, k in zip(begins, ends, strict=True)
    ]


def _notch(
    undisturbed: FloatArray, volts: FloatArray, own: BoolArray, first: int, step: float, crest: float
) -> Notch:
    deviation = np.abs(undisturbed - volts)
    largest = float(deviation.max())
    there = np.maximum(np.abs(undisturbed), abs(undisturbed[0]))
    counts = (deviation >= 0.5 * largest) & own
    if not np.any(counts):
        counts = deviation == largest
    ratio = np.divide(deviation, there, out=np.zeros_like(deviation), where=counts & (there > 0.0))
    deep = int(np.argmax(ratio))
    return Notch(
        100.0 * float(ratio[deep]),
        100.0 * largest / crest,
        abs(float(np.sum(undisturbed - volts))) * step,
        deviation.size * step,
        first + deep,
    )
