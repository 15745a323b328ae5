"""Whether the functions live in LibreOffice: it opens a workbook of examples, and the values are compared."""

from __future__ import annotations

import math
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc import __version__
from xlcalc.hosts.libreoffice.programs.office import Office
from xlcalc.hosts.steps import Step
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, Value
from xlcalc.worksheet.registry import WorksheetFunction

RELATIVE_TOLERANCE = 1e-9
VERSION = "=HD_VERSION()"

_REINSTALL = (
    "run: xlcalc host install libreoffice, close LibreOffice and check again (its Python has to be "
    f"{sys.version_info[0]}.{sys.version_info[1]}, as this one)"
)


def check(office: Office, functions: Mapping[str, WorksheetFunction]) -> list[Step]:
    """Start LibreOffice without a window, evaluate every example there, compare with the headless result."""
    examples = [example.formula for function in functions.values() for example in function.examples]
    shown = calculated(office, [VERSION, *examples])
    version = shown[0]
    if version != __version__:
        text = "" if version is None else str(version)
        advice = _REINSTALL if text.startswith("#") or not text else text
        return [Step(f"LibreOffice shows {text or 'nothing'} for HD_VERSION()", False, advice)]
    steps = [Step(f"LibreOffice computes with xlcalc {version}", True)]
    for formula, value in zip(examples, shown[1:], strict=True):
        expected = evaluate_formula(formula, functions)
        good = same(expected, value)
        steps.append(Step(formula, good, "" if good else f"gives {value}, headless {_text(expected)}"))
    return steps


def calculated(office: Office, formulas: list[str]) -> list[object]:
    """What LibreOffice shows for formulas that stand in a workbook under plain function names."""
    with tempfile.TemporaryDirectory() as temporary:
        source = Path(temporary) / "examples.xlsx"
        book = openpyxl.Workbook()
        sheet = book.active
        assert isinstance(sheet, Worksheet)
        for row, formula in enumerate(formulas, start=1):
            sheet.cell(row, 1, formula)
        book.save(source)
        out = Path(temporary) / "out"
        out.mkdir()
        result = openpyxl.load_workbook(office.convert(source, out), data_only=True).worksheets[0]
        return [result.cell(row, 1).value for row in range(1, len(formulas) + 1)]


def same(expected: Value, shown: object) -> bool:
    """True where a shown value is the expected one; a number to nine digits."""
    if isinstance(expected, CellError):
        return shown == expected.code.value
    if isinstance(expected, float) and isinstance(shown, int | float):
        return math.isclose(expected, shown, rel_tol=RELATIVE_TOLERANCE, abs_tol=RELATIVE_TOLERANCE)
    return expected == shown


def _text(value: Value) -> str:
    return str(value.code) if isinstance(value, CellError) else str(value)
