"""A function over an array gives in each place what it gives for that cell alone.

Arrays are computed at once, and each different value only once; the plain formulas, one for each cell, are
the ones that the oracle compares with other programs.
"""

from __future__ import annotations

import math
import random
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.recalc import recalculate

NUMBERS = [3.0, -2.5, 2.5, 0.5, 1.005, 2.675, -7.0, 1234.567, 0.0, 3.0, 45000.0, 12.0]
TEXTS = ["alpha", "Alpha", "a*b", "", "b12", "x-1", "Pumpe 12 kW", "größe", "a", "alpha", "~a", "B"]
MIXED = [3.0, "alpha", None, True, "=1/0", "=NA()", "x2", -2.5, "", False, '="a"&"b"', 0.0]
SHAPES = {"numbers": NUMBERS, "texts": TEXTS, "mixed": MIXED}
LAST = len(MIXED)
FORMULAS = [
    "ABS({x})", "INT({x})", "SQRT({x})", "ROUND({x},0)", "ROUND({x},1)", "ROUND({x},2)", "ROUND({x},-1)",
    "MOD({x},3)", "MOD({x},-4)", "MOD({x},0)", "ROUNDUP({x},0)", "{x}^2", "{x}^0.5", "{x}^-1", "{x}*2",
    "{x}/4", "1/{x}", "-{x}", "{x}%", "{x}+TRUE", "({x}-1)*({x}+1)", "LEN({x})", "LEFT({x},2)", "LEFT({x})",
    "RIGHT({x},2)", "RIGHT({x},0)", "MID({x},2,3)", "UPPER({x})", "LOWER({x})", "TRIM({x})", "PROPER({x})",
    'SEARCH("a",{x})', 'SEARCH("a*b",{x})', 'FIND("a",{x})', 'FIND("",{x})', 'SEARCH("A",{x},2)',
    'SUBSTITUTE({x},"a","o")', 'EXACT({x},"alpha")', "REPT({x},2)", '{x}&"-"', '"k"&{x}', "{x}&{x}",
    "ISNUMBER({x})", "ISTEXT({x})", "ISNONTEXT({x})", "ISBLANK({x})", "ISLOGICAL({x})", "ISERROR({x})",
    "ISNA({x})", "ISERR({x})", 'ISNUMBER(SEARCH("a",{x}))', "NOT({x})", "IF({x}>2,{x},0)",
    'IF({x}="a",1,{x})', 'IF(ISNUMBER({x}),{x},"none")', "IFERROR({x},7)", 'IFERROR(1/{x},"none")',
    "IFERROR(LEN({x}),0)",
    '{x}="alpha"', '{x}<>"alpha"', "{x}>2", "{x}=3", '{x}="12"', "{x}=TRUE", "MONTH({x})", 'TEXT({x},"0.0")',
    "COS({x})", "SIN({x})", "RADIANS({x})",
    "VALUE({x})", "EVEN({x})", "LN({x})", 'LEFT({x},2)="al"', "LEN({x})>2", "(LEN({x})+1)/2", "ABS({x})=2.5",
    'LEFT({x},LEN({x})-1)', "MID({x},LEN({x}),1)&LEFT({x},1)", "IF(LEN({x})>1,RIGHT({x},1),LEFT({x},1))",
]  # fmt: skip


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory):
    book = openpyxl.Workbook()
    for name, values in SHAPES.items():
        sheet = book.create_sheet(name)
        for row, value in enumerate(values, 1):
            sheet.cell(row, 1, value)
        for number, formula in enumerate(FORMULAS):
            column = 2 + 2 * number
            for row in range(1, LAST + 1):
                sheet.cell(row, column, "=" + formula.format(x=f"$A{row}"))
            area = f"{sheet.cell(1, column + 1).coordinate}:{sheet.cell(LAST, column + 1).coordinate}"
            text = "=" + formula.format(x=f"$A$1:$A${LAST}")
            sheet[area.partition(":")[0]] = ArrayFormula(area, text)
    folder = tmp_path_factory.mktemp("repeated")
    book.save(folder / "book.xlsx")
    report = recalculate(folder / "book.xlsx", folder / "out.xlsx", {})
    refused = {(issue.sheet, issue.cell) for issue in report.issues if issue.refused}
    return openpyxl.load_workbook(folder / "out.xlsx", data_only=True), refused


@pytest.mark.parametrize("formula", FORMULAS)
@pytest.mark.parametrize("shape", SHAPES)
def test_each_place_is_the_cell_alone(shape: str, formula: str, sheets) -> None:
    book, refused = sheets
    sheet = book[shape]
    column = 2 + 2 * FORMULAS.index(formula)
    pairs = [(sheet.cell(row, column), sheet.cell(row, column + 1)) for row in range(1, LAST + 1)]
    alone = [(shape, cell.coordinate) in refused for cell, _ in pairs]
    if (shape, pairs[0][1].coordinate) in refused:
        assert any(alone)
        return
    assert not any(alone)
    for cell, place in pairs:
        assert type(cell.value) is type(place.value) or isinstance(cell.value, int | float)
        assert place.value == (pytest.approx(cell.value, rel=1e-14) if _counts(cell.value) else cell.value)


def _counts(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def test_rounding_of_many_numbers(recalculated) -> None:
    numbers = [random.Random(7).uniform(-500, 500) for _ in range(300)]
    cells: dict[str, object] = {f"A{row}": number for row, number in enumerate(numbers, 1)}
    for letter, formula in {"B": "ROUND(A1:A300,2)", "C": "INT(A1:A300)", "D": "ROUND(A1:A300,0)"}.items():
        cells[f"{letter}1"] = ArrayFormula(f"{letter}1:{letter}300", "=" + formula)
    result = recalculated(cells)
    columns = [result[f"{letter}1:{letter}300"] for letter in "BCD"]
    for number, [cents], [below], [whole] in zip(numbers, *columns, strict=True):
        exact = Decimal(repr(number))
        assert cents == float(exact.quantize(Decimal("0.01"), ROUND_HALF_UP))
        assert below == math.floor(number)
        assert whole == float(exact.quantize(Decimal(1), ROUND_HALF_UP))
