"""Regression against numpy and scipy, laws without a witness in LibreOffice against their formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from openpyxl.worksheet.formula import ArrayFormula
from scipy import stats

X = [1.0, 2.0, 4.0, 7.0, 11.0, 16.0]
Z = [3.0, 1.0, 4.0, 1.0, 5.0, 9.0]
Y = [2.1, 3.9, 8.4, 13.7, 22.5, 31.8]
DATA = (
    {f"A{row}": value for row, value in enumerate(X, 1)}
    | {f"B{row}": value for row, value in enumerate(Z, 1)}
    | {f"C{row}": value for row, value in enumerate(Y, 1)}
)


def _array(recalculated, formula: str, area: str):
    return recalculated({**DATA, area.partition(":")[0]: ArrayFormula(area, formula)})[area]


def test_a_line_with_its_statistics(recalculated) -> None:
    shown = _array(recalculated, "=LINEST(C1:C6,A1:A6,TRUE,TRUE)", "E1:F5")
    line = stats.linregress(X, Y)
    assert shown[0] == pytest.approx([line.slope, line.intercept])
    assert shown[1] == pytest.approx([line.stderr, line.intercept_stderr])
    assert shown[2][0] == pytest.approx(line.rvalue**2)
    assert shown[3][1] == 4


def test_two_variables_stand_in_reverse_order(recalculated) -> None:
    shown = _array(recalculated, "=LINEST(C1:C6,A1:B6)", "E1:G1")
    design = np.column_stack([X, Z, np.ones(6)])
    first, second, level = np.linalg.lstsq(design, Y, rcond=None)[0]
    assert shown[0] == pytest.approx([second, first, level])


def test_a_curve_and_its_continuation(recalculated) -> None:
    slope, level = np.polyfit(X, np.log(Y), 1)
    shown = _array(recalculated, "=LOGEST(C1:C6,A1:A6)", "E1:F1")
    assert shown[0] == pytest.approx([math.exp(slope), math.exp(level)])
    shown = _array(recalculated, "=GROWTH(C1:C6,A1:A6,{20;30})", "E1:E2")
    assert [row[0] for row in shown] == pytest.approx(np.exp(level + slope * np.array([20, 30])))


@pytest.mark.parametrize(
    "formula",
    [
        "=LINEST(C1:C6,A1:B6*0)",
        "=LINEST(C1:C6,HSTACK(A1:A6,A1:A6*2))",
        "=LINEST(A1:A6*2,A1:A6,TRUE,TRUE)",
        "=LINEST(C1:C1,A1:A1)",
    ],
)
def test_what_has_no_certain_fit_is_refused(formula: str, recalculated) -> None:
    book = recalculated({**DATA, "E1": ArrayFormula("E1:F1", formula)})
    assert book.refused == {"S!E1"}


@pytest.mark.parametrize("formula", ["=LINEST(C1:C7,A1:A7)", '=TREND(C1:C6,A1:A6,"x")'])
def test_blank_cells_and_text_are_no_numbers(formula: str, recalculated) -> None:
    assert recalculated({**DATA, "E1": formula})["E1"] == "#VALUE!"


def test_a_range_of_a_binomial_law_is_the_sum_of_its_terms(recalculated) -> None:
    shown = recalculated({"A1": "=BINOM.DIST.RANGE(10,0.4,3,5)"})["A1"]
    assert shown == pytest.approx(sum(math.comb(10, k) * 0.4**k * 0.6 ** (10 - k) for k in (3, 4, 5)))


def test_a_criterion_of_a_list_that_programs_read_differently_is_refused(recalculated) -> None:
    cells = {"A1": "Tag", "B1": "Qty", "A2": "P-1", "B2": 3, "A3": "P-10", "B3": 5, "D1": "Tag", "D2": "P-1"}
    book = recalculated({**cells, "F1": '=DSUM(A1:B3,"Qty",D1:D2)'})
    assert book.refused == {"S!F1"}
