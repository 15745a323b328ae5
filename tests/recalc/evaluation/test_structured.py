"""Structured references in all spellings found in files, from every place of a table."""

from __future__ import annotations

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.worksheet.table import Table as FileTable

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.structured import DeclaredTable, parse_structured, resolve

TABLE = DeclaredTable("Drives", "S", CellRange(3, 2, 8, 5), ("Tag", "Load", "a b", "it's [x]"), 1, 1)


@pytest.mark.parametrize(
    ("text", "area"),
    [
        ("Drives[]", "B4:E7"),
        ("Drives[Load]", "C4:C7"),
        ("Drives[load]", "C4:C7"),
        ("Drives[[Load]]", "C4:C7"),
        ("Drives[[Tag]:[a b]]", "B4:D7"),
        ("Drives[[a b]:[Tag]]", "B4:D7"),
        ("Drives[#All]", "B3:E8"),
        ("Drives[#Data]", "B4:E7"),
        ("Drives[#Headers]", "B3:E3"),
        ("Drives[#Totals]", "B8:E8"),
        ("Drives[[#All],[Tag]:[Load]]", "B3:C8"),
        ("Drives[[#All], [Load]]", "C3:C8"),
        ("Drives[[#Headers],[Load]]", "C3"),
        ("Drives[[#Totals],[Load]]", "C8"),
        ("Drives[[#Headers],[#Data],[Load]]", "C3:C7"),
        ("Drives[[#Data],[#Totals],[Load]]", "C4:C8"),
        ("Drives[it''s '[x']]", "E4:E7"),
        ("Drives[[#Data],[it''s '[x']]]", "E4:E7"),
        ("Drives[ Load ]", "C4:C7"),
    ],
)
def test_area(text: str, area: str) -> None:
    part = resolve(parse_structured(text), TABLE)
    assert part.area is not None
    assert (part.area.name, part.own_row) == (area, False)


@pytest.mark.parametrize(
    ("text", "area"),
    [
        ("Drives[[#This Row],[Load]]", "C4:C7"),
        ("Drives[[#This Row],Load]", "C4:C7"),
        ("[[#This Row],[Load]]", "C4:C7"),
        ("Drives[@Load]", "C4:C7"),
        ("[@Load]", "C4:C7"),
        ("[@[a b]]", "D4:D7"),
        ("Drives[@[Tag]:[Load]]", "B4:C7"),
        ("Drives[[#This Row],[Tag]:[Load]]", "B4:C7"),
        ("Drives[@]", "B4:E7"),
        ("Drives[#This Row]", "B4:E7"),
    ],
)
def test_own_row(text: str, area: str) -> None:
    part = resolve(parse_structured(text), TABLE)
    assert part.area is not None
    assert (part.area.name, part.own_row) == (area, True)


@pytest.mark.parametrize(
    "text", ["Drives[Nothing]", "Drives[[#Nowhere],[Load]]", "Drives[[Tag],[Load]]", "Drives["]
)
def test_refused(text: str) -> None:
    with pytest.raises(Refusal):
        resolve(parse_structured(text), TABLE)


def test_table_without_totals() -> None:
    bare = DeclaredTable("T", "S", CellRange(1, 1, 4, 1), ("n",), 1, 0)
    assert resolve(parse_structured("T[#Totals]"), bare).area is None


def _escaped(name: str) -> str:
    return "".join("'" + letter if letter in "[]#'" else letter for letter in name)


@given(
    st.text(st.sampled_from("abZ 09,:;.[]#'@é-+()\"&"), min_size=1, max_size=12).filter(
        lambda s: s == s.strip() and s
    )
)
def test_any_column_name_survives_its_escapes(name: str) -> None:
    assert parse_structured(f"T[[#All],[{_escaped(name)}]]").first == name
    assert parse_structured(f"T[[{_escaped(name)}]:[x]]").first == name
    assert parse_structured(f"T[@[{_escaped(name)}]]").first == name


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("SUM(Drives[Load])", 60.0),
        ("SUM(Drives)", 60.0),
        ("Drives[[#Headers],[Load]]", "Load"),
        ("COUNTA(Drives[[#All],[Tag]:[Load]])", 8.0),
        ("SUM(Drives[[Tag]:[Load]])", 60.0),
        ("Drives[#Totals]", "#REF!"),
        ("INDEX(Drives[Tag],2)", "b"),
        ('SUMIF(Drives[Tag],"c",Drives[Load])', 30.0),
        ("Drives[@Load]*10", 200.0),
        ('Drives[[#This Row],[Tag]]&"!"', "b!"),
        ("SUM(Drives[@])", 20.0),
        ("Drives[Load]", 20.0),
        ('SUMPRODUCT(Drives[Load]*(Drives[Tag]>"a"))', 50.0),
        ("X_SHAPE(Drives,Drives[#All],Drives[@Load])", "3x2 4x2 float"),
        ("ROWS(Drives)", 3.0),
    ],
)
def test_in_a_formula(formula: str, value: object, recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in [("Tag", "Load"), ("a", 10.0), ("b", 20.0), ("c", 30.0)]:
        sheet.append(row)
    sheet.add_table(FileTable(displayName="Drives", ref="A1:B4"))
    sheet["D3"] = "=" + formula
    result = recalculated(book)
    assert result.refused == set()
    assert result["D3"] == value


def test_own_row_outside_the_table(recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for row in [("Tag", "Load"), ("a", 10.0)]:
        sheet.append(row)
    sheet.add_table(FileTable(displayName="Drives", ref="A1:B2"))
    sheet["D9"], sheet["D8"] = "=Drives[@Load]", "=[@Load]"
    result = recalculated(book)
    assert result["D9"] == "#VALUE!"
    assert result.refused == {"Sheet!D8"}


@pytest.mark.parametrize(
    ("formula", "expected"),
    [("SUM(T[Est ])", 30), ("SUM(T[Est])", 3), ("SUM(T[[ Est]])", 300), ("SUM(T[[Est]:[Est ]])", 33)],
)
def test_blanks_around_the_name_of_a_column_count(formula: str, expected: float, recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.title = "S"
    for line in (("Est", "Est ", " Est"), (1, 10, 100), (2, 20, 200)):
        sheet.append(line)
    sheet.add_table(FileTable(displayName="T", ref="A1:C3"))
    sheet["E1"] = "=" + formula
    assert recalculated(book)["E1"] == expected
