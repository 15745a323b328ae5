"""Functions for measured values: spectra of samples, groups of a window, unbalance, percentiles."""

from __future__ import annotations

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import FloatArray
from xlcalc.measurement.aggregation import LENGTHS
from xlcalc.measurement.capture import first_window, whole_cycles
from xlcalc.measurement.groups import (
    harmonic_groups,
    harmonic_subgroups,
    interharmonic_groups,
    interharmonic_subgroups,
)
from xlcalc.measurement.judgement import percentile_verdict
from xlcalc.measurement.percentiles import percentile_bounds
from xlcalc.measurement.quantities import unbalance_pct
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.values import Grid
from xlcalc.standards.loader import Limit, Origin, Verified
from xlcalc.standards.statistics import EN_50160, IEEE_519, SECONDS, Statistic, statistics
from xlcalc.standards.verdict import Judgement
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.number_ranges import Phasors, Row
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Measured values"

SAMPLES = Argument("samples", Row(least=6), "Samples of a voltage or current, equally spaced in time")
RATE = Argument("samples_per_second", Number(0, 1e9, above=True), "Sampling rate")
HZ = Argument(
    "hz", Number(1, 1000, "Hz"), "Fundamental frequency; found near 50 or 60 Hz if left out", default=None
)
GROUP_COLUMNS = ("order", "subgroup", "group", "interharmonic subgroup", "interharmonic group")
VERDICT_COLUMNS = ("percentile", "limit", "verdict", "values known", "values needed", "reason")

USER_LIMIT = Origin("own limit", "", "argument limit_pct", Verified.USER)
MOST_EXTRA = 1.05
"""Values of a period that may be there beside those that it has at the nominal frequency."""


def _statistics() -> dict[str, Statistic]:
    found = {}
    for quantity in ("current", "voltage"):
        for rule in statistics(IEEE_519, quantity, "2022"):
            found[f"{quantity} {rule.percentile:g} % {rule.period}"] = rule
    (week,) = statistics(EN_50160, "voltage", "2010")
    return found | {"EN 50160": week}


STATISTICS = _statistics()


def _spectrum(samples: FloatArray, rate: float, hz: float | None) -> Grid:
    found = whole_cycles(samples, rate, hz).spectrum
    rows = zip(found.orders, found.magnitude, found.angle_deg, strict=True)
    return [[float(h), float(rms), float(deg)] for h, rms, deg in rows if int(h) in found.given]


def _subgroups(samples: FloatArray, rate: float, hz: float | None) -> Grid:
    window = first_window(samples, rate, hz)
    lines = window.magnitude[0]
    if lines.size < window.cycles + 2:
        valid = f"{3.0 * window.hz:.4g} or more at {window.hz:.4g} Hz"
        raise InputError("samples_per_second", rate, valid)
    columns = [
        harmonic_subgroups(lines, window.cycles),
        harmonic_groups(lines, window.cycles),
        interharmonic_subgroups(lines, window.cycles)[1:],
        interharmonic_groups(lines, window.cycles)[1:],
    ]
    return [
        [float(order), *("" if np.isnan(value) else float(value) for value in values)]
        for order, values in enumerate(zip(*columns, strict=True), start=1)
        if not np.isnan(values[0])
    ]


def _verdict(values: FloatArray, limit_pct: float, statistic: str) -> Grid:
    rule = STATISTICS[statistic]
    needed = round(SECONDS[rule.period] / LENGTHS[rule.window])
    if values.size > MOST_EXTRA * needed:
        raise InputError("values", f"a range of {values.size} cells", f"{needed} values: one {rule.period}")
    bounds = percentile_bounds(values[:, None], rule.percentile, max(needed, values.size))
    limit = rule.limit(Limit(limit_pct, USER_LIMIT))
    verdict = percentile_verdict(rule.text, None, bounds, 0, limit)
    known = int(bounds.known[0])
    missing = f"{known} of {max(needed, values.size)} values known" if known < needed else ""
    judgement = Judgement((verdict,), gaps=(missing,) if missing and verdict.passes is None else ())
    observed = float(bounds.observed[0])
    return [
        [
            "" if np.isnan(observed) else observed,
            verdict.limit,
            judgement.word,
            float(known),
            float(needed),
            judgement.reason or (f"{missing}: " if missing else "") + verdict.text,
        ]
    ]


_CYCLE = "10;5;-5;-10;-5;5"
_WINDOW = ";".join([_CYCLE] * 10)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_SAMPLE_SPECTRUM",
        category=CATEGORY,
        summary="Spectrum of all whole cycles in a range of samples",
        gives="rows of order, rms value in the unit of the samples, angle in degrees",
        arguments=(SAMPLES, RATE, HZ),
        implementation=_spectrum,
        shape=Shape(None, ("order", "rms", "angle deg")),
        examples=(
            Example(
                f"=INDEX(HD_SAMPLE_SPECTRUM({{{_CYCLE}}},300,50),1,2)",
                7.071068,
                "six samples of a cosine with the amplitude 10: 10 over the root of 2, by hand",
            ),
        ),
        notes="Orders up to 50, and up to 0.9 of half the sampling rate. Angles are those of cosines against "
        "the first sample. The samples may divide the cycle unevenly; the harmonics are then fitted by least "
        "squares.",
    ),
    WorksheetFunction(
        name="HD_SUBGROUPS",
        category=CATEGORY,
        summary="Harmonic and interharmonic groups and subgroups of the first window (IEC 61000-4-7)",
        gives="rows of order, then rms of subgroup, group, and of the interharmonics above the order",
        arguments=(SAMPLES, RATE, HZ),
        implementation=_subgroups,
        shape=Shape(None, GROUP_COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_SUBGROUPS({{{_WINDOW}}},300,50),1,2)",
                7.071068,
                "ten cycles of a cosine with the amplitude 10: 10 over the root of 2, by hand",
            ),
        ),
        notes="The window is 10 cycles at 50 Hz and 12 at 60 Hz, synchronised to the frequency of the "
        "samples. The formula of the subgroup was cross-checked, those of the groups are from memory. "
        "Samples shorter than a window are refused; HD_SAMPLE_SPECTRUM takes whole cycles.",
    ),
    WorksheetFunction(
        name="HD_UNBALANCE_PCT",
        category=CATEGORY,
        summary="Unbalance: negative over positive sequence of three phasors",
        gives="percent",
        arguments=(
            Argument(
                "phasors", Phasors(), "Phases a, b, c, or line-to-line voltages ab, bc, ca, in this order"
            ),
        ),
        implementation=unbalance_pct,
        examples=(Example("=HD_UNBALANCE_PCT({100,0;100,-120;90,120})", 3.448276, "10 over 290, by hand"),),
        notes="Two phases that are swapped give #NUM!: the negative sequence is then above the positive.",
    ),
    WorksheetFunction(
        name="HD_PERCENTILE_VERDICT",
        category=CATEGORY,
        summary="Measured values of a day or week against a limit by percentile (IEEE 519, EN 50160)",
        gives="one row: percentile of the known values, limit with its multiplier, verdict, values known, "
        "values needed, reason",
        arguments=(
            Argument(
                "values_pct",
                Row(blanks=True, negative=False),
                "Values of 3 s (statistics of a day) or of 10 minutes (of a week) of one quantity",
            ),
            Argument(
                "limit_pct", Number(0, 1000, "%", above=True), "Limit of the table, without a multiplier"
            ),
            Argument("statistic", Choice(tuple(STATISTICS)), "Which percentile of which values"),
        ),
        implementation=_verdict,
        shape=Shape(1, VERDICT_COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_PERCENTILE_VERDICT({1;2;3},4,"current 95 % week"),1,3)',
                "NO VERDICT",
                "three values are no week of 1008, by hand",
            ),
        ),
        notes="The percentile is the smallest value that the stated share of all values does not exceed. "
        "A blank cell, and every value that a day (28800) or week (1008) lacks, counts as missing: "
        "PASS and FAIL stand only where they would whatever the missing values are. "
        "The statistics are those of IEEE 519 (editions 2014 and 2022 alike) and EN 50160.",
    ),
)
