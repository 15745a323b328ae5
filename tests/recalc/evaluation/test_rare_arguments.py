"""Arguments that few formulas have: parts of unequal size, cells of several kinds, blank options.

Expected values as in the function descriptions of Excel (support.microsoft.com, from memory), and as IronCalc
0.9.1 shows them; where programs differ or the description does not decide it, the formula is refused.
"""

from __future__ import annotations

import openpyxl
import pytest
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.recalc import recalculate

_DATA = {
    "A1": 2.5,
    "A2": "word",
    "A4": True,
    "A6": "=1/0",
    "A7": "=NA()",
    "B1": 2,
    "B2": 3,
    "B3": 5,
    "C1": 7,
    "C2": 11,
    "C3": 13,
    "D1": 1,
    "D2": "word",
    "D4": True,
    "E1": "Tag",
    "F1": "Qty",
    "E2": "P-1",
    "F2": 4,
    "G1": "Qty",
    "G2": ">3",
}
_NEWER = (
    "HSTACK VSTACK TAKE DROP CHOOSECOLS CHOOSEROWS EXPAND SEQUENCE TOROW TOCOL XLOOKUP XMATCH TEXTBEFORE "
    "TEXTAFTER TEXTSPLIT TEXTJOIN UNIQUE SWITCH"
).split()
_NA = "#N/A"
SHOWN: list[tuple[str, list[object]]] = [
    ("HSTACK(1,C1:C3)", [1, 7, _NA, 11]),
    ("VSTACK(1,B3:C3)", [1, _NA, 5, 13]),
    ("VSTACK(D1:D4)", [1, 1, "word", "word"]),
    ("HSTACK(B1:B2,C1:C2)", [2, 7, 3, 11]),
    ("TAKE(1,2,1)", [1, 1, 1, 1]),
    ("TAKE(B1:C3,,-1)", [7, 7, 11, 11]),
    ("TAKE(B1:C3,TRUE)", [2, 7, 2, 7]),
    ("TAKE(B1:C3,-9)", [2, 7, 3, 11]),
    ("DROP(B1:C3,TRUE)", [3, 11, 5, 13]),
    ("CHOOSECOLS(B1:C3,TRUE,-1)", [2, 7, 3, 11]),
    ("CHOOSEROWS(B1:C3,3,TRUE)", [5, 13, 2, 7]),
    ("CHOOSEROWS(B1:C3,4)", ["#VALUE!"] * 4),
    ("SEQUENCE(TRUE,2,,3)", [1, 4, 1, 4]),
    ("SEQUENCE(,2,5)", [5, 6, 5, 6]),
    ("SEQUENCE(-1)", ["#VALUE!"] * 4),
    ("TOCOL(B1:C2,,TRUE)", [2, 2, 3, 3]),
    ("TOROW(D2:D4,1)", ["word", True, "word", True]),
    ("EXPAND(B1:B1,2,2,0)", [2, 0, 0, 0]),
    ("EXPAND(A6,2,2)", ["#DIV/0!"] * 4),
    ("XLOOKUP(4,B1:B3,C1:C2)", ["#VALUE!"] * 4),
    ('XLOOKUP(4,B1:B3,C1:C3,"none",A7)', [_NA] * 4),
    ("XMATCH(4,B1:B3,-1)", [2] * 4),
    ("XMATCH(4,B1:B5,-1)", [2] * 4),
    ('XLOOKUP(9,B1:B5,C1:C5,"none",1)', ["none"] * 4),
    ('TEXTBEFORE("a-b","-",A5)', ["#VALUE!"] * 4),
    ('TEXTAFTER("a-b","-",A5)', ["#VALUE!"] * 4),
    ('TEXTJOIN(",",A2,B1:B3)', ["#VALUE!"] * 4),
    ('TEXTJOIN(", ",TRUE,B1:B3,"",A5,TRUE,0.1+0.2)', ["2, 3, 5, TRUE, 0.3"] * 4),
    ('TEXTJOIN("-",FALSE,D1:D4)', ["1-word--TRUE"] * 4),
    ("DEC2BIN(-5,4)", ["1111111011"] * 4),
    ("DEC2BIN(-5,0)", ["#NUM!"] * 4),
    ("DEC2HEX(-5,11)", ["#NUM!"] * 4),
    ('DSUM(E1:F1,"Qty",G1:G2)', ["#VALUE!"] * 4),
    ('DSUM(E1:F2,"Qty",G1:G2)', [4] * 4),
]
REFUSED = [
    ("HSTACK(A6,C1:C3)", "a single error value"),
    ("TAKE(B1:C3,A5)", "a blank cell"),
    ("TAKE(B1:C3,0)", "no result"),
    ("DROP(B1:C3,3)", "no result"),
    ("SEQUENCE(2,20000)", "more columns"),
    ("SEQUENCE(A5)", "a blank cell"),
    ("COUNTA(UNIQUE(D1:D4))", "a blank cell in an array"),
    ("XLOOKUP(2,D1:D4,B1:B4,,1)", "several kinds"),
    ('XMATCH("z",D1:D4,1)', "several kinds"),
    ("XMATCH(1,B1:B5,-1)", "blank cells"),
    ("XMATCH(-1,B1:B5,1)", "blank cells"),
    ("XLOOKUP(A5,D1:D4,B1:B4)", "a blank cell looked up"),
    ("XLOOKUP(4,1,C1:C3)", "a single cell"),
    ("XLOOKUP(4,A7,C1)", "a single error value"),
    ('TEXTSPLIT("a-b",A5)', "a delimiter that is no text"),
    ('TEXTJOIN(",","1",B1:B3)', "as a condition"),
    ("IPMT(0.01,3.9,3,1000)", "a part of a period"),
    ("MIRR({-100,50,60},-1,0.1)", "-100 %"),
    ("MIRR({-100,-50},0.1,0.1)", "losses only"),
    ("SYD(100,10,5,0.5)", "a part of the first period"),
    ("SUMPRODUCT(A1,A2)", "a single text"),
    ('SUMPRODUCT("word")', "a single text"),
    ("SWITCH(FALSE,A5,1,2)", "a blank cell"),
    ("SWITCH(A5,0,1,2)", "a blank cell"),
    ("YEARFRAC(45000,45100,TRUE)", "a logical"),
    ("ADDRESS(-1,3,1,FALSE)", "not there"),
    ("ADDRESS(2,20000,4,FALSE)", "not there"),
    ("DAYS360(45000.9,45031)", "parts of days"),
    ("SUM(OFFSET(B1,0,0,3,0.9))", "a part of a row or column"),
    ("DDB(100,10,5,0.5)", "no whole number"),
    ('FIND("","abc",4)', "behind the last character"),
    ("NETWORKDAYS.INTL(45000,45010,TRUE)", "a logical"),
    ('TEXT(1.5,"[s].000")', "not supported"),
    ('TEXT(1.5,"ss.00")', "not supported"),
    ('TEXT(1.5,"#.#####00#0")', "not supported"),
    ('TEXT(68.2,"00,00")', "not supported"),
    ('TEXT(TRUE,";;;@")', "a format for texts"),
]


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[list[object], str]]:
    """The values of each formula over two rows and two columns, and why it was refused."""
    folder = tmp_path_factory.mktemp("rare")
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for address, value in _DATA.items():
        sheet[address] = value
    formulas = [formula for formula, _ in (*SHOWN, *REFUSED)]
    for number, formula in enumerate(formulas):
        text = formula
        for name in _NEWER:
            text = text.replace(f"{name}(", f"_xlfn.{name}(")
        first = 3 * number + 1
        sheet[f"K{first}"] = ArrayFormula(f"K{first}:L{first + 1}", "=" + text)
    book.save(folder / "book.xlsx")
    report = recalculate(folder / "book.xlsx", folder / "out.xlsx", {})
    reasons = {issue.cell: issue.reason for issue in report.issues if issue.refused}
    sheet = openpyxl.load_workbook(folder / "out.xlsx", data_only=True).worksheets[0]
    return {
        formula: (
            [cell.value for row in sheet[f"K{3 * number + 1}:L{3 * number + 2}"] for cell in row],
            reasons.get(f"K{3 * number + 1}", ""),
        )
        for number, formula in enumerate(formulas)
    }


@pytest.mark.parametrize(("formula", "expected"), SHOWN)
def test_shown(formula: str, expected: list[object], shown) -> None:
    assert shown[formula] == (expected, "")


@pytest.mark.parametrize(("formula", "reason"), REFUSED)
def test_refused(formula: str, reason: str, shown) -> None:
    assert reason in shown[formula][1]
