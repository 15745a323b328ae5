"""The three phases of a PCC and of a bus one by one, where an unbalanced supply makes them differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from xlcalc.core.spectrum import MAX_ORDER, ComplexArray, FloatArray
from xlcalc.network.sequence import components
from xlcalc.standards.loader import Limit
from xlcalc.standards.verdict import NO_VERDICT, Judgement, Verdict, worst_word
from xlcalc.studies.pcc import CURRENT, TDD, VOLTAGE, VOLTAGE_THD, PccResult
from xlcalc.studies.verdict.assessed import GIVEN_SUPPLY, Assessment

PHASES: Final = ("a", "b", "c")
ALIKE_POINTS: Final = 1e-4
"""Percent of the demand current or of nominal voltage within which phases are alike."""

TOTAL, OVERALL = "total", "overall"
COLUMNS: Final = (
    "order",
    *(f"current {phase} pct" for phase in PHASES),
    "current limit pct",
    *(f"voltage {phase} pct" for phase in PHASES),
    "voltage limit pct",
    *(f"verdict {phase}" for phase in PHASES),
)
ROWS: Final = MAX_ORDER + 2
"""Orders 1 to 50, a row of totals and one of the whole."""

Cells = list[float | str]


@dataclass(frozen=True, eq=False)
class PhaseTable:
    """The three phases of a PCC.

    Parameters
    ----------
    supply : str
        "as given", or the assumed supply that decides.
    differ : bool
        Whether they differ in any order.
    rows : tuple of list
        In the columns of `COLUMNS`; the last is of the whole. Blank cells are empty texts.
    """

    supply: str
    differ: bool
    rows: tuple[Cells, ...]


def phases_differ(pcc: PccResult) -> bool:
    """Whether any order of current or voltage is not the same in all phases."""
    return bool(
        max(np.ptp(pcc.phase_current_pct, axis=0).max(), np.ptp(pcc.phase_voltage_pct, axis=0).max())
        > ALIKE_POINTS
    )


def phase_table(assessment: Assessment) -> PhaseTable | None:
    """The phases of a PCC in the state that decides; None without a result.

    That is the state on the given supply, or on an assumed one where the plant passes on the given supply
    alone. A phase has no verdict on the whole where the PCC has none.

    Parameters
    ----------
    assessment : Assessment
    """
    pcc, supply = assessment.pcc, GIVEN_SUPPLY
    if pcc is None:
        return None
    assumed = assessment.assumed
    if assumed is not None and assumed.pcc is not None and assumed.pcc.judgement.passes is False:
        pcc, supply = assumed.pcc, f"{assumed.supply} supply"
    rows = _rows(pcc)
    whole = [NO_VERDICT if assessment.judgement.doubts else worst_word(_words(rows, k)) for k in range(3)]
    rows.append([OVERALL, *[""] * 8, *whole])
    return PhaseTable(supply, phases_differ(pcc), tuple(rows))


def _rows(pcc: PccResult) -> list[Cells]:
    current, voltage = pcc.phase_current_pct, pcc.phase_voltage_pct
    limits = _limits(pcc.judgement)
    rows: list[Cells] = [[1.0, *current[:, 0].tolist(), "", *[""] * 3, "", *[""] * 3]]
    for order in range(2, MAX_ORDER + 1):
        own = limits[CURRENT, order], limits[VOLTAGE, order]
        rows.append(_row(float(order), current[:, order - 1], voltage[:, order - 1], own))
    totals = limits[TDD, None], limits[VOLTAGE_THD, None]
    rows.append(_row(TOTAL, pcc.phase_tdd_pct, pcc.phase_thdv_pct, totals))
    return rows


def _limits(judgement: Judgement) -> dict[tuple[str, int | None], Limit]:
    return {(v.quantity, v.order): Limit(v.limit, v.origin, v.unit) for v in judgement.verdicts}


def _row(order: float | str, current: FloatArray, voltage: FloatArray, limits: tuple[Limit, Limit]) -> Cells:
    words = []
    for pair in zip(current, voltage, strict=True):
        both = (Verdict.against("", None, *one) for one in zip(pair, limits, strict=True))
        words.append(worst_word(verdict.word for verdict in both))
    return [order, *current.tolist(), limits[0].value, *voltage.tolist(), limits[1].value, *words]


def _words(rows: Sequence[Cells], phase: int) -> list[str]:
    return [str(row[phase - 3]) for row in rows if row[phase - 3]]


BUS_COLUMNS: Final = (
    *(f"voltage thd {phase} pct" for phase in PHASES),
    "phase with the largest",
    "voltage unbalance pct",
)


def bus_phases(pcc: PccResult, fundamental: ComplexArray) -> Cells:
    """Distortion of each phase of a bus and its unbalance, in the columns of `BUS_COLUMNS`.

    Parameters
    ----------
    pcc : PccResult
        The bus as a PCC, whatever the demand current.
    fundamental : array of complex, shape (3,)
        Its fundamental voltages to neutral.

    Returns
    -------
    list
        The phase is blank where all are alike; the unbalance is the negative over the positive sequence.
    """
    thd = pcc.phase_thdv_pct
    _, positive, negative = np.abs(components(fundamental[:, None])[:, 0])
    worst = PHASES[int(np.argmax(thd))] if phases_differ(pcc) else ""
    return [*thd.tolist(), worst, float(100.0 * negative / positive)]
