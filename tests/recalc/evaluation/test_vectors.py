"""Arrays that stay in numpy between steps give what arrays that go through the engine give.

The same formulas over ranges with fixed and with moving addresses: only the first are kept. Whether the kept
way is right is for the oracle; here both ways must agree.
"""

from __future__ import annotations

import pytest

DATA = {
    "A1": 3.0,
    "A2": -1.5,
    "A3": 0.1,
    "A4": "=0.1+0.2-0.2",
    "A5": 7.0,
    "B1": "alpha",
    "B2": "Beta",
    "B3": None,
    "B4": "ALPHA",
    "B5": "x",
    "C1": 1.0,
    "C2": None,
    "C3": 3.0,
    "C4": 4.0,
    "C5": 5.0,
    "D1": 1.0,
    "D2": "=NA()",
    "D3": True,
    "D4": "t",
    "D5": 2.0,
}
FORMULAS = [
    'SUMPRODUCT(({B}="alpha")*{C})',
    'SUMPRODUCT(({B}<>"alpha")*({A}>0)*{C})',
    "SUMPRODUCT(({A}=0.1)*1)",
    "SUMPRODUCT(--({A}<=0.1))",
    'SUMPRODUCT(-({B}="x")*{A})',
    "SUMPRODUCT({A},{C})",
    "SUMPRODUCT(({A}>0)*{C}/2)",
    "SUMPRODUCT(({A}>0)+({C}>3))",
    'SUMPRODUCT(({B}="")*1)',
    "SUMPRODUCT(({C}=0)*1)",
    'SUMPRODUCT(({D}="t")*1)',
    "SUMPRODUCT(({D}=2)*1)",
    "SUMPRODUCT({C}*{D})",
    "SUMPRODUCT({A}^2)",
    "SUMPRODUCT(({A}>0)*{C}%)",
    "SUMPRODUCT(IF(1>0,({A}>0)*{C}))",
    "SUMPRODUCT(ABS({A}-{C}))",
    "SUMPRODUCT((3<{C})*1)",
    "SUMPRODUCT(({A}>{C})*1)",
    "SUMPRODUCT({A}>0)",
    "MATCH(1,INDEX(({A}>0)*({C}>3),0),0)",
]


@pytest.mark.parametrize("formula", FORMULAS)
def test_kept_and_passed_ranges_agree(formula: str, recalculated) -> None:
    fixed = {letter: f"${letter}$1:${letter}$5" for letter in "ABCD"}
    moving = {letter: f"{letter}1:{letter}5" for letter in "ABCD"}
    cells = {"F1": "=" + formula.format(**fixed), "G1": "=" + formula.format(**moving)}
    result = recalculated(DATA | cells)
    assert result["F1"] == result["G1"]
    assert ("S!F1" in result.refused) == ("S!G1" in result.refused)
    assert ("S!F1" in result.refused) == (formula == "SUMPRODUCT({A}>0)")
