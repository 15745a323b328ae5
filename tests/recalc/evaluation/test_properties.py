"""What must hold for any formula, any book, any dependency."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path

import openpyxl
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl.formula.translate import Translator

from xlcalc.recalc.cellnames import CellRange, cell_name
from xlcalc.recalc.evaluation.dependents import Node, circles, following
from xlcalc.recalc.evaluation.formula.pattern import SLOT, shift, split_pattern
from xlcalc.recalc.recalc import recalculate

CELLS = st.builds(
    lambda col, row, a, b: f"{'$' * a}{cell_name(1, col)[:-1]}{'$' * b}{row}",
    st.integers(1, 700),
    st.integers(1, 9000),
    st.booleans(),
    st.booleans(),
)
PIECES = st.one_of(
    CELLS,
    st.builds(lambda a, b: f"SUM({a}:{b})", CELLS, CELLS),
    st.builds(lambda a: f"'My A1 sheet'!{a}", CELLS),
    st.builds(lambda a: f"LOG10({a})", CELLS),
    st.sampled_from(
        ['"A1 and B2"', "rate_1", "1E5", "Q1x", "TRUE", "Table1[[#This Row],[B2]]", "$A:$C", "X.A1"]
    ),
)


@given(st.lists(PIECES, min_size=1, max_size=6).map("+".join), st.integers(0, 40), st.integers(0, 40))
def test_copies_move_as_the_library_moves_them(text: str, rows: int, columns: int) -> None:
    expected = Translator("=" + text, "A1").translate_formula(row_delta=rows, col_delta=columns)
    assert "=" + shift(text, rows, columns) == expected


def test_copies_that_leave_the_sheet() -> None:
    assert shift("A2+$A$1+B1:C3+XFD1", -1, 0) == "A1+$A$1+#REF!:C2+#REF!"
    assert shift("XFD1+1:1+A:A", 0, 1) == "#REF!+1:1+B:B"


@given(st.lists(PIECES, min_size=1, max_size=6).map("&".join))
def test_pattern_and_cells_give_the_text_back(text: str) -> None:
    pattern, cells = split_pattern(text)
    assert pattern.count(SLOT) == len(cells)
    for cell in cells:
        pattern = pattern.replace(SLOT, cell, 1)
    assert pattern == text


@st.composite
def _graphs(draw: st.DrawFn) -> Mapping[int, Node]:
    size = draw(st.integers(2, 12))
    nodes = {}
    for identity in range(size):
        areas = []
        for _ in range(draw(st.integers(0, 3))):
            top, left = draw(st.integers(1, 4)), draw(st.integers(1, 4))
            bottom, right = draw(st.integers(top, 4)), draw(st.integers(left, 4))
            areas.append(("S", CellRange(top, left, bottom, right)))
        row, col = divmod(identity, 4)
        here = CellRange(row + 1, col + 1, row + 1, col + 1)
        nodes[identity] = Node(("S", here), tuple(areas), draw(st.sampled_from([False] * 9 + [True])))
    return nodes


def _reads(node: Node, other: Node) -> bool:
    return any(area.contains(*other.covers[1][:2]) for _, area in node.areas)


@given(_graphs(), st.data())
def test_everything_that_follows_is_found(nodes: Mapping[int, Node], data: st.DataObject) -> None:
    seeds = data.draw(st.sets(st.sampled_from(sorted(nodes)), min_size=1))
    reached = set(seeds) | {i for i, node in nodes.items() if node.moving}
    while True:
        more = {i for i in nodes if any(_reads(nodes[i], nodes[j]) for j in reached)} - reached
        if not more:
            break
        reached |= more
    assert set(following(nodes, seeds)) == reached - seeds


@given(_graphs())
def test_circles_are_those_that_reach_themselves(nodes: Mapping[int, Node]) -> None:
    def reaches(start: int) -> set[int]:
        found: set[int] = set()
        todo = [j for j in nodes if _reads(nodes[start], nodes[j])]
        while todo:
            identity = todo.pop()
            if identity not in found:
                found.add(identity)
                todo += [j for j in nodes if _reads(nodes[identity], nodes[j])]
        return found

    assert circles(nodes, sorted(nodes)) == {i for i in nodes if i in reaches(i)}


NUMBERS = st.floats(-100, 100).map(lambda x: round(x, 3))


@st.composite
def _expressions(draw: st.DrawFn, depth: int = 3) -> tuple[str, object]:
    """A formula over A1:A5, and a Python function of these values."""
    if depth == 0 or draw(st.booleans()):
        index = draw(st.integers(1, 5))
        if draw(st.booleans()):
            return f"A{index}", lambda a: a[index - 1]
        return f"SUM(A{index}:A5)", lambda a: math.fsum(a[index - 1 :])
    left, f = draw(_expressions(depth - 1))
    right, g = draw(_expressions(depth - 1))
    operator = draw(st.sampled_from(["+", "-", "*", "IF", "MAX", "ROUND"]))
    if operator == "IF":
        return f"IF({left}>{right},{left},{right}-1)", lambda a: f(a) if f(a) > g(a) else g(a) - 1
    if operator == "MAX":
        return f"MAX({left},{right},Total)", lambda a: max(f(a), g(a), math.fsum(a))
    if operator == "ROUND":
        return f"ABS({left})", lambda a: abs(f(a))
    apply = {"+": lambda x, y: x + y, "-": lambda x, y: x - y, "*": lambda x, y: x * y}[operator]
    return f"({left}{operator}{right})", lambda a: apply(f(a), g(a))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(NUMBERS, min_size=5, max_size=5), st.lists(_expressions(), min_size=1, max_size=20))
def test_random_books_against_python(
    tmp_path: Path, numbers: list[float], listed: list[tuple[str, object]]
) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    book.defined_names["Total"] = openpyxl.workbook.defined_name.DefinedName(
        "Total", attr_text="SUM(Sheet!$A$1:$A$5)"
    )
    for row, number in enumerate(numbers, 1):
        sheet.cell(row, 1, number)
    for row, (formula, _) in enumerate(listed, 1):
        sheet.cell(row, 3, "=" + formula)
    book.save(tmp_path / "in.xlsx")
    report = recalculate(tmp_path / "in.xlsx", tmp_path / "out.xlsx", {})
    assert not report.issues
    shown = openpyxl.load_workbook(tmp_path / "out.xlsx", data_only=True).worksheets[0]
    for row, (formula, function) in enumerate(listed, 1):
        assert callable(function)
        expected = function(numbers)
        assert math.isclose(shown.cell(row, 3).value, expected, rel_tol=1e-9, abs_tol=1e-6), formula


TOKENS = st.sampled_from(
    (
        "A1 A2:B3 $C$1 Total 'My Sheet'!A1 Sheet!B2 1 2.5 \"x\" TRUE #N/A + - * / ^ & = <> > < % , ; : "
        "( ) { } @ # ! [ ] SUM( IF( INDEX( X_GRID( X_TOTAL( HD( _xlfn. OFFSET( INDIRECT( LET( TEXT( "
        "Drives[Load] [@Load] [1]!F( ISERROR( COUNT( ROUND( TRIM( ~ ' \" é"
    ).split(" ")
)


@settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
@given(listed=st.lists(st.lists(TOKENS, min_size=1, max_size=12).map("".join), min_size=20, max_size=60))
def test_any_text_is_evaluated_or_refused(listed: list[str], recalculated) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet["A1"], sheet["A2"], sheet["B3"] = 1.0, "two", 3.0
    for row, text in enumerate(listed, 1):
        sheet.cell(row, 5, "=" + text)
        sheet.cell(row, 6, f"=E{row}")
    report = recalculated(book).report
    assert report.evaluated + report.refused == report.formulas
    assert all(issue.reason for issue in report.issues)
