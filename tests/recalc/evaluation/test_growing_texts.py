"""Texts that grow beyond what a cell holds are refused before they cost memory.

32,767 characters: "Excel specifications and limits" (Microsoft), total number of characters that a cell can
contain; cited from memory. Results of REPT and SUBSTITUTE within the limit are held
against LibreOffice in tests/recalc/oracle.
"""

from __future__ import annotations

import pytest

resource = pytest.importorskip("resource")

LONG = 'REPT("a",32767)'


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ('REPT("ab",2.9)', "abab"),
        ('REPT("ab",0)', ""),
        ('REPT("ab","2")', "abab"),
        ("REPT(12,2)", "1212"),
        (f"LEN({LONG})", 32767.0),
        ('SUBSTITUTE("a-b-c","-","+")', "a+b+c"),
        ('SUBSTITUTE("a-b-c","-","+",2)', "a-b+c"),
        ('SUBSTITUTE("a-b-c","-","+",3)', "a-b-c"),
        ('SUBSTITUTE("a-b","","+")', "a-b"),
        ('SUBSTITUTE("a-b","-",Z9)', "ab"),
        ('SUBSTITUTE("AbA","a","x")', "AbA"),
        ("SUBSTITUTE(121,2,0)", "101"),
    ],
)
def test_results_within_the_limit(recalculated, formula: str, expected: object) -> None:
    result = recalculated({"A1": "=" + formula})
    assert not result.report.refused
    assert result["A1"] == expected or (expected == "" and result["A1"] in (None, ""))


@pytest.mark.parametrize("formula", ['REPT("ab",-1)', 'SUBSTITUTE("a","a","b",0)', 'REPT("ab","x")'])
def test_value_errors(recalculated, formula: str) -> None:
    assert recalculated({"A1": "=" + formula})["A1"] == "#VALUE!"


def test_too_long_texts_are_refused_cheaply(recalculated) -> None:
    cells = {
        "A1": f'=LEN(SUBSTITUTE({LONG},"a",{LONG}))',
        "A2": '=REPT("ab",1E9)',
        "A3": '=SUBSTITUTE("aaa","aa","b",2)',
        "B1": f"={LONG}",
    }
    cells |= {f"B{n}": f"=B{n - 1}&B{n - 1}" for n in range(2, 60)}
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    report = recalculated(cells).report
    grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
    assert {issue.cell for issue in report.issues} >= {"A1", "A2", "A3", "B2", "B3", "B59"}
    assert "B1" not in {issue.cell for issue in report.issues}
    assert grown < 200 << 10
