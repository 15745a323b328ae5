"""A bus of the plant against every document of limits that has it in its scope."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.standards.ieee519_verdict import CURRENT, TDD, judge_voltage
from xlcalc.standards.order_limits import judge_orders, order_table
from xlcalc.standards.verdict import Judgement
from xlcalc.studies.pcc import PccResult
from xlcalc.studies.verdict.assessed import GIVEN_SUPPLY, Assessment
from xlcalc.studies.verdict.remarks import PERFECT_ONLY
from xlcalc.worksheet.functions.plant import solved_plants
from xlcalc.worksheet.functions.plant.plant_study import (
    BUS_ARGUMENT,
    CATEGORY,
    DRIVES_ARGUMENT,
    EXAMPLE_DRIVES,
    EXAMPLE_NETWORK,
    NETWORK_ARGUMENT,
    SETTINGS_ARGUMENT,
)
from xlcalc.worksheet.functions.standards.levels import QUANTITY
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

COLUMNS = (
    "document",
    "judged",
    "total %",
    "its limit %",
    "order with the smallest margin",
    "its value %",
    "its limit %",
    "verdict",
    "verified",
)

OUTSIDE = "outside its scope"


@dataclass(frozen=True)
class Document:
    """A table of voltage levels by order, for buses above `above_kv` up to `most_kv`.

    Bounds of scope are recalled, but for those of IEC TR 61000-3-6.
    """

    name: str
    table: str
    column: str
    above_kv: float
    most_kv: float

    @property
    def title(self) -> str:
        """The name with the edition."""
        origin = order_table(self.table).rows[0].origin
        return self.name.replace(origin.standard, origin.document)


DOCUMENTS = (
    Document("IEC 61000-2-2", "iec61000_2_2", "LV", 0.0, 1.0),
    Document("IEC 61000-2-4 class 1", "iec61000_2_4", "class 1", 0.0, 35.0),
    Document("IEC 61000-2-4 class 2", "iec61000_2_4", "class 2", 0.0, 35.0),
    Document("IEC 61000-2-4 class 3", "iec61000_2_4", "class 3", 0.0, 35.0),
    Document("EN 50160 LV", "en50160", "LV", 0.0, 1.0),
    Document("EN 50160 MV", "en50160", "MV", 1.0, 36.0),
    Document("IEC TR 61000-3-6 MV", "iec61000_3_6", "MV", 1.0, 35.0),
    Document("IEC TR 61000-3-6 HV-EHV", "iec61000_3_6", "HV-EHV", 35.0, float("inf")),
)

ROWS = 3 + len(DOCUMENTS)


def _levels(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    assessment = solved_plants.assessment_of(tables, drives, bus, settings)
    kv, edition = assessment.require_pcc().kv, f"IEEE 519-{settings['edition']}"
    amps, volts = "current, % of IL", "voltage, % of nominal"
    return [
        _row(edition, amps, judged_by(assessment, _currents)),
        _row(f"{edition}, multiplier", amps, judged_by(assessment, _raised_currents)),
        _row(edition, volts, judged_by(assessment, _voltages, of_current=False)),
        *(_document_row(document, kv, assessment) for document in DOCUMENTS),
    ]


def _currents(pcc: PccResult, _: float) -> Judgement:
    return Judgement(tuple(v for v in pcc.judgement.verdicts if v.quantity in (TDD, CURRENT)))


def _raised_currents(pcc: PccResult, fundamental_pct: float) -> Judgement:
    return _currents(replace(pcc, raise_other_limits=True), fundamental_pct)


def _voltages(pcc: PccResult, _: float) -> Judgement:
    return judge_voltage(pcc.voltage_pct, pcc.kv, pcc.edition)


def _document_row(document: Document, kv: float, assessment: Assessment) -> list[Scalar]:
    judged = "voltage, % of fundamental"
    if not document.above_kv < kv <= document.most_kv:
        return [document.title, judged, *[""] * (len(COLUMNS) - 4), OUTSIDE, ""]

    def by_document(pcc: PccResult, fundamental_pct: float) -> Judgement:
        percent = np.asarray(100.0 * pcc.voltage_pct / fundamental_pct)
        return judge_orders(order_table(document.table), document.column, QUANTITY, percent)

    return _row(document.title, judged, judged_by(assessment, by_document, of_current=False))


def judged_by(
    assessment: Assessment, judge: Callable[[PccResult, float], Judgement], of_current: bool = True
) -> Judgement:
    """An assessed PCC by another document, in all states that were assessed.

    Parameters
    ----------
    assessment : Assessment
        With a result.
    judge : callable
        Takes a result and the fundamental voltage, percent of nominal.
    of_current : bool
        Whether the demand current matters; what is doubted of it then is doubted here.
    """
    own = assessment.demand.doubts if assessment.demand else ()
    doubts = [
        doubt
        for doubt in assessment.judgement.doubts
        if not doubt.startswith(PERFECT_ONLY) and (of_current or doubt not in own)
    ]
    given: list[Judgement] = []
    assumed: list[Judgement] = []
    for state in assessment.states:
        if state.pcc is not None and state.solution is not None:
            found = judge(state.pcc, solved_plants.fundamental_pct(state.solution, assessment.bus))
            (given if state.supply == GIVEN_SUPPLY else assumed).append(found)
    worst = max(given, key=lambda one: one.binding.ratio)
    if worst.passes and any(one.passes is not True for one in assumed):
        doubts.append(PERFECT_ONLY)
    return worst.doubted(*doubts)


def _row(document: str, judged: str, judgement: Judgement) -> list[Scalar]:
    total = next((verdict for verdict in judgement.verdicts if verdict.order is None), None)
    order = judgement.binding_order
    return [
        document,
        judged,
        *(("", "") if total is None else (total.value, total.limit)),
        *(("", "", "") if order is None else (float(order.order or 0), order.value, order.limit)),
        judgement.word,
        judgement.binding.verified,
    ]


FUNCTIONS = (
    WorksheetFunction(
        name="HD_PLANT_LEVELS",
        category=CATEGORY,
        summary="A bus of the plant against every document: IEEE 519, IEC 61000-2-2, -2-4, -3-6, EN 50160",
        gives="one row per document, in a fixed order",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_levels,
        shape=Shape(ROWS, COLUMNS),
        examples=(
            Example(
                f'=INDEX(HD_PLANT_LEVELS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"M"),6,4)',
                8.0,
                "IEC 61000-2-4:2002 class 2, THD (secondary sources)",
            ),
            Example(
                f'=INDEX(HD_PLANT_LEVELS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U"),4,8)',
                OUTSIDE,
                "IEC 61000-2-2 is for low voltage, 13.8 kV is not",
            ),
        ),
        notes="Which document applies is for the study to say: IEC 61000-2-2 and EN 50160 hold for public "
        "supplies, IEC 61000-2-4 inside a plant by class. No verdict beyond the voltages of a document's "
        "scope (bounds recalled). Multiplier: other limits of current raised where low orders are held down.",
    ),
)
