"""What a sheet shows of an assessed PCC: the table by order, and single quantities."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, Final

from xlcalc.core.errors import NoSolutionError
from xlcalc.schema.kinds import Choice
from xlcalc.schema.values import Grid
from xlcalc.studies.pcc import PccOptions, PccResult, pcc_columns
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.sources import Summation
from xlcalc.studies.verdict.assessment import Assessment
from xlcalc.worksheet.functions.plant.assessments import bare_of
from xlcalc.worksheet.registry import Shape

PCC_QUANTITIES: Final = (
    *("TDD", "LIMIT_TDD", "THDV", "LIMIT_THDV", "ISC_IL", "ISC", "IL"),
    *("MARGIN", "WORST_ORDER", "WORST", "VERDICT", "SOURCE"),
)
"""Of a result at a PCC."""

ASSESSMENT_QUANTITIES: Final = (
    *PCC_QUANTITIES,
    *("REASON", "REMARKS", "FINDING", "IL_BASIS", "FUNDAMENTAL"),
    *("P95_TDD", "P95_THDV"),
    *("QUICK_TDD", "QUICK_THDV", "QUICK_VERDICT", "TYPICAL_TDD", "TYPICAL_VERDICT"),
)
"""Of an assessment, those of its result included."""

ASSUMED: Final = "ASSUMED"
"""What blank cells stand for; known from the inputs alone."""

BARE_QUANTITIES: Final = ("BARE_TDD", "BARE_THDV", "BARE_VERDICT")
"""Of the plant without line reactors, DC chokes and filters."""

QUANTITIES: Final = Choice(
    (*ASSESSMENT_QUANTITIES, *BARE_QUANTITIES, ASSUMED),
    f"one of {', '.join(PCC_QUANTITIES)}, REASON, REMARKS, FINDING and the others of the note",
)

QUANTITY_NOTES: Final = (
    "TDD, THDV and their limits in percent; ISC and IL in A at the PCC; IL_BASIS: typed or estimated; "
    "FUNDAMENTAL: fundamental amperes at the PCC; MARGIN: how far the binding value stays below its "
    "limit, percent of the limit; WORST: the binding quantity; WORST_ORDER: the order with the smallest"
    " margin; VERDICT: PASS, FAIL or NO VERDICT, never an error; REASON: why there is no verdict; "
    "FINDING: the binding value and its limit in words; REMARKS: what qualifies the verdict; ASSUMED: "
    "what blank cells stand for; P95_...: over what nameplates leave open, blank where they leave "
    "nothing open; SOURCE: where the binding limit comes from; QUICK_...: the quick estimate, every "
    "drive as if alone on its bus; TYPICAL_...: on an assumed supply where unbalance and background are"
    " not given, blank where that was not judged; BARE_...: without line reactors, DC chokes and "
    "filters, at the same IL, blank where none is there."
)

PCC_SHAPE: Final = Shape(
    51,
    (
        "order",
        "current A",
        "% of demand current",
        "limit %",
        "margin points",
        "voltage %",
        "limit %",
        "margin points",
    ),
)


def pcc_rows(pcc: PccResult) -> Grid:
    """Rows of orders 1 to 50 in the columns of `PCC_SHAPE`, and a row of totals."""
    by_order: Grid = [
        [float(order), *("" if math.isnan(value) else value for value in row)]
        for order, row in enumerate(zip(*pcc_columns(pcc).values(), strict=True), start=1)
    ]
    return [*by_order, _totals(pcc)]


def _totals(pcc: PccResult) -> list[Any]:
    tdd, thdv = pcc.judgement.verdicts[:2]
    return [
        "total",
        pcc.current.harmonic_rms,
        tdd.value,
        tdd.limit,
        tdd.margin,
        thdv.value,
        thdv.limit,
        thdv.margin,
    ]


def bare_quantity(
    quantity: str, plant: StudiedPlant, options: PccOptions, assessment: Assessment
) -> float | str:
    """One of `BARE_QUANTITIES`, with the demand current of the assessment."""
    if assessment.demand is None:
        return ""
    bare = bare_of(plant, replace(options, demand_amps=assessment.demand.amps))
    if bare is None:
        return ""
    values: dict[str, float | str] = {
        "BARE_TDD": bare.tdd_pct,
        "BARE_THDV": bare.thdv_pct,
        "BARE_VERDICT": bare.judgement.word,
    }
    return values[quantity]


CONTRIBUTION_SHAPE: Final = Shape(None, ("order", "tag", "units", "A at the PCC", "share %"))

CONTRIBUTION_NOTES: Final = (
    "Of the order with the smallest margin, in the state of the plant that decides. Amperes of all units of "
    "a row at the PCC, in the phase where the sum is largest. Share: the component along the sum of all "
    "drives, so that the shares add up to 100 %; a negative one lowers the sum."
)


def contribution_rows(assessment: Assessment, summation: Summation) -> Grid:
    """Rows in the columns of `CONTRIBUTION_SHAPE`, the largest share first."""
    order, found = assessment.contributions(summation)
    return [[float(order), item.tag, float(item.units), item.amps, item.share_pct] for item in found]


def pcc_quantity(pcc: PccResult, quantity: str) -> float | str:
    """One of `PCC_QUANTITIES`."""
    judgement = pcc.judgement
    tdd, thdv = judgement.verdicts[:2]
    binding = judgement.binding
    values: dict[str, Callable[[], float | str]] = {
        "TDD": lambda: tdd.value,
        "LIMIT_TDD": lambda: tdd.limit,
        "THDV": lambda: thdv.value,
        "LIMIT_THDV": lambda: thdv.limit,
        "ISC_IL": lambda: pcc.isc_il,
        "ISC": lambda: pcc.short_circuit_amps,
        "IL": lambda: pcc.demand_amps,
        "MARGIN": lambda: 100.0 * (1.0 - binding.ratio),
        "WORST_ORDER": lambda: float(judgement.binding_order.order or 0) if judgement.binding_order else 0.0,
        "WORST": lambda: binding.name,
        "VERDICT": lambda: judgement.word,
        "SOURCE": lambda: f"{binding.origin.text}; {binding.verified}",
    }
    return values[quantity]()


def assessment_quantity(assessment: Assessment, quantity: str) -> float | str:
    """One of `ASSESSMENT_QUANTITIES`.

    Raises
    ------
    NoSolutionError
        A quantity of the result at the PCC, where there is none; VERDICT and its texts are always there.
    """
    quick, assumed, spread = assessment.quick, assessment.assumed, assessment.spread
    typical = assumed.pcc if assumed else None
    values: dict[str, Callable[[], float | str]] = {
        "VERDICT": lambda: assessment.word,
        "REASON": lambda: assessment.reason,
        "REMARKS": lambda: assessment.remark,
        "FINDING": lambda: assessment.finding,
        "IL_BASIS": lambda: assessment.il_basis,
        "FUNDAMENTAL": lambda: _fundamental(assessment),
        "P95_TDD": lambda: spread.tdd_pct if spread else "",
        "P95_THDV": lambda: spread.thdv_pct if spread else "",
        "QUICK_TDD": lambda: quick.tdd_pct if quick else "",
        "QUICK_THDV": lambda: quick.thdv_pct if quick else "",
        "QUICK_VERDICT": lambda: assessment.quick_word,
        "TYPICAL_TDD": lambda: typical.tdd_pct if typical else "",
        "TYPICAL_VERDICT": lambda: assessment.assumed_word,
    }
    if quantity in values:
        return values[quantity]()
    return pcc_quantity(assessment.require_pcc(), quantity)


def _fundamental(assessment: Assessment) -> float:
    if assessment.fundamental_amps is None:
        raise NoSolutionError(assessment.reason)
    return assessment.fundamental_amps
