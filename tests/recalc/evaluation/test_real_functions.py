"""The project's own worksheet functions through the host: nested calls, ranges, fixed arrays, reasons."""

from __future__ import annotations

import math
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.values import CellError
from xlcalc.worksheet.catalogue import FUNCTIONS


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    folder = tmp_path_factory.mktemp("real")
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    cells: dict[str, object] = {
        "A1": ArrayFormula("A1:C50", "=HD_SPECTRUM(6,1,3)"),
        "E1": ArrayFormula("E1:G50", "=HD_SPECTRUM(12,1,3)"),
        "I1": "=INDEX(HD_SPECTRUM(6,1,3),5,2)",
        "I2": "=HD_THD(HD_SPECTRUM(6,1,3))",
        "I3": "=HD_THD(A1:C50)",
        "I4": "=SQRT(SUMSQ(B2:B50))/B1*100",
        "I5": "=INDEX(HD_SPECTRUM_SUM(A1:C50,E1:G50),1,2)",
        "I6": "=HD_THD(IF(I1>0,A1:C50,E1:G50))",
        "I7": "=HD_THD(CHOOSE(2,E1:G50,A1:C50))",
        "I8": "=HD_SPECTRUM(6,1,3)",
        "I9": "=HD_SPECTRUM(6,1,3,,,)",
        "I10": "=INDEX(HD_SPECTRUM(6,1,3,,100),5,2)",
        "I11": "=HD_SPECTRUM(7,1)",
        "I12": "=I11*2",
        "I13": '=IFERROR(HD_SPECTRUM(7,1),"bad")',
        "I14": "=hd_thd(E1:G50)<HD_THD(A1:C50)",
    }
    for address, content in cells.items():
        sheet[address] = content
    path = folder / "book.xlsx"
    book.save(path)
    report = recalculate(path, folder / "out.xlsx", FUNCTIONS)
    values = openpyxl.load_workbook(folder / "out.xlsx", data_only=True).worksheets[0]
    found: dict[str, object] = {cell.coordinate: cell.value for row in values.iter_rows() for cell in row}
    found["report"] = report
    return found


def test_nested_calls_and_ranges_agree(shown: dict[str, object]) -> None:
    thd = shown["I2"]
    assert isinstance(thd, float)
    assert 5 < thd < 100
    for address in ("I3", "I4", "I6", "I7"):
        assert shown[address] == pytest.approx(thd, rel=1e-9)
    assert shown["I1"] == shown["B5"] == shown["I10"]
    assert shown["I8"] == shown["I9"] == 1
    assert [shown[f"A{order}"] for order in (1, 25, 50)] == [1, 25, 50]
    assert shown["I5"] == pytest.approx(200, rel=0.05)
    assert shown["I14"] is True


def test_bad_argument_has_a_reason_and_follows(shown: dict[str, object]) -> None:
    assert (shown["I11"], shown["I12"], shown["I13"]) == ("#NUM!", "#NUM!", "bad")
    issues = {issue.cell: issue.reason for issue in shown["report"].issues}  # type: ignore[attr-defined]
    assert set(issues) == {"I11", "I12"}
    assert "pulses is 7" in issues["I11"]
    assert issues["I12"] == "follows from Sheet!I11"


@pytest.mark.parametrize(
    "example",
    [example for function in FUNCTIONS.values() for example in function.examples],
    ids=lambda example: example.formula,
)
def test_documented_example(example) -> None:
    value = evaluate_formula(example.formula, FUNCTIONS)
    assert not isinstance(value, CellError), value
    if isinstance(value, list):
        value = value[0][0]
    if isinstance(example.result, str):
        assert value == example.result
    else:
        assert isinstance(value, float)
        assert math.isclose(value, example.result, rel_tol=1e-3, abs_tol=1e-6)


def test_template_is_evaluated_completely(tmp_path: Path) -> None:
    template = Path(__file__).parents[3] / "workbook_templates" / "drive_study.xlsx"
    report = recalculate(template, tmp_path / "study.xlsx", FUNCTIONS)
    assert report.formulas > 100
    assert report.refused == 0
