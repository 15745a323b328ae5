"""Arrays that depend on the clock: Excel marks each covered cell with an empty formula.

The XML is written as the files show it that started this test (Excel 365, office templates).
"""

from __future__ import annotations

import zipfile
from datetime import datetime

import pytest

NOW = datetime(2024, 1, 10)


def _sheet(array: str, mark: str = "", rows: str = "") -> str:
    return (
        '<row r="1"><c r="A1"><f>TODAY()</f><v>1</v></c>'
        f'<c r="B1"{mark}><f t="array" ref="B1:B3" ca="1">{array}</f><v>5</v></c></row>'
        '<row r="2"><c r="A2"><v>2</v></c><c r="B2"><f ca="1"/><v>7</v></c>'
        '<c r="C2"><f>B2+1</f><v>0</v></c></row>'
        f'<row r="3"><c r="A3"><v>3</v></c><c r="B3"><f ca="1"/><v>8</v></c></row>{rows}'
    )


@pytest.mark.parametrize("mark", ["", ' cm="1"'])
def test_covered_cells_belong_to_the_array(mark: str, make_package, recalculated) -> None:
    result = recalculated(make_package(_sheet("A1:A3*2", mark)), now=NOW)
    assert not result.report.issues
    assert result.report.formulas == 3
    assert result["B1:B3"] == [[90602], [4], [6]]
    assert result["C2"] == 5
    data = zipfile.ZipFile(result.path).read("xl/worksheets/sheet1.xml")
    assert data.count(b'<f ca="1"/>') == 2


def test_array_that_shrinks_or_grows(make_package, recalculated) -> None:
    shorter = recalculated(make_package(_sheet("A1:A2*2", ' cm="1"')), now=NOW)
    assert shorter["B1:B3"] == [[90602], [4], [None]]
    assert zipfile.ZipFile(shorter.path).read("xl/worksheets/sheet1.xml").count(b'<f ca="1"/>') == 1
    longer = recalculated(make_package(_sheet("A1:A4*2", ' cm="1"')), now=NOW)
    assert longer["B1:B4"] == [[90602], [4], [6], [0]]


def test_refused_array_keeps_its_cells(make_package, recalculated) -> None:
    result = recalculated(make_package(_sheet("CUBEVALUE(A1:A3)")), now=NOW)
    assert result["B1:B3"] == [[5], [7], [8]]
    assert result.refused == {"Data!B1", "Data!C2"}
