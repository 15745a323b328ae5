"""One behaviour: headless, Calc and the xlwings path give the same value or the same error everywhere.

Every function is called with its examples, with what its arguments must refuse, and with every kind of thing
a cell or range can hold in the place of every argument. One workbook holds all the calls; each host computes
it.
`DIFFERENCES` is the whole list of what is not the same, and every entry of it is itself checked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.values import Value
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.registry import WorksheetFunction

DATA, CALLS, ARRAYS = "Data", "Calls", "Arrays"
MOST_ROWS = 60

KINDS: Mapping[str, str] = {
    "number": "4",
    "number in a cell": f"{DATA}!$A$1",
    "range of one cell": f"{DATA}!$A$1:$A$1",
    "row": f"{DATA}!$A$1:$C$1",
    "column": f"{DATA}!$A$1:$A$3",
    "block": f"{DATA}!$A$1:$C$3",
    "text in a cell": f"{DATA}!$E$1",
    "empty text": '""',
    "logical": "TRUE",
    "date in a cell": f"{DATA}!$E$2",
    "blank cell": f"{DATA}!$G$1",
    "blank range": f"{DATA}!$G$1:$H$2",
    "block with a blank": f"{DATA}!$A$5:$C$7",
    "error in a cell": f"{DATA}!$E$3",
    "not available in a cell": f"{DATA}!$E$4",
    "range with an error": f"{DATA}!$A$9:$C$10",
    "left empty": "",
}
CELLS = {
    "A1": 6, "B1": 12, "C1": 18, "A2": 5, "B2": 20, "C2": 30, "A3": 7, "B3": 14, "C3": -60,
    "A5": 1, "B5": 100, "C5": None, "A6": 5, "B6": None, "C6": 30, "A7": 7, "B7": 14, "C7": -60,
    "A9": 1, "B9": 100, "C9": 0, "A10": 5, "B10": "=1/0", "C10": 0,
    "E1": "text", "E2": 45293, "E3": "=1/0", "E4": "=NA()",
}  # fmt: skip

DIFFERENCES: Mapping[str, str] = {
    "blank cell": "Calc hands the number 0 over for a blank single cell",
    "logical": "Calc hands the number 1 or 0 over for a logical",
    "range with an error": "Calc does not call the function: the result is #VALUE!, not the error there",
}
STAND_INS = {"blank cell": "0", "logical": "1"}


@dataclass(frozen=True)
class Call:
    """One formula, and why it is in the list."""

    name: str
    formula: str
    kind: str = ""
    stand_in: str = ""


FIRST_BLOCK_COLUMN = 10
BLOCKS: list[list[list[Value]]] = []
"""Ranges with blank cells, which no array constant can hold: on the sheet of data, one below the other."""


def written(value: Value) -> str:
    """A value as a formula has it: in the formula, or as a reference to cells."""
    if not (isinstance(value, list) and any(cell is None for row in value for cell in row)):
        return literal(value)
    if value not in BLOCKS:
        BLOCKS.append(value)
    first = 1 + sum(len(block) for block in BLOCKS[: BLOCKS.index(value)])
    left = get_column_letter(FIRST_BLOCK_COLUMN)
    right = get_column_letter(FIRST_BLOCK_COLUMN + len(value[0]) - 1)
    return f"{DATA}!${left}${first}:${right}${first + len(value) - 1}"


def literal(value: Value) -> str:
    if isinstance(value, list):
        return "{" + ";".join(",".join(map(literal, row)) for row in value) + "}"
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, str):
        return '"' + value.replace('"', '""') + '"'
    return "" if value is None else repr(value)


def good_arguments(function: WorksheetFunction) -> list[Value]:
    """Raw arguments of the first example, as the function receives them."""
    seen: list[list[Value]] = []

    class Recorder:
        name, min_args, max_args = function.name, function.min_args, function.max_args
        volatile, shape = function.volatile, function.shape

        def __call__(self, raw: list[Value]) -> Value:
            seen.append(list(raw))
            return function(raw)

    evaluate_formula(function.examples[0].formula, {**FUNCTIONS, function.name: Recorder()})
    return seen[-1]


def formula(function: WorksheetFunction, arguments: list[str]) -> str:
    call = f"{function.name}({','.join(arguments)})"
    return f"=SUM({call})" if function.shape else f"={call}"


def array_areas() -> Iterator[tuple[str, str, str]]:
    """Name, cells and formula of the first example of every function that gives an array."""
    first = 1
    for name, function in FUNCTIONS.items():
        if function.shape is not None:
            arguments = ",".join(written(value) for value in good_arguments(function))
            last = first + len(function.shape.columns) - 1
            rows = min(function.shape.rows or MOST_ROWS, MOST_ROWS)
            cells = f"{get_column_letter(first)}1:{get_column_letter(last)}{rows}"
            yield name, cells, f"={name}({arguments})"
            first = last + 2


def with_argument(function: WorksheetFunction, arguments: list[str], position: int, text: str) -> str:
    return formula(function, [*arguments[:position], text, *arguments[position + 1 :]])


def calls() -> Iterator[Call]:
    for name, function in FUNCTIONS.items():
        for number, example in enumerate(function.examples):
            yield Call(f"{name} example {number}", example.formula)
        good = [written(value) for value in good_arguments(function)]
        if function.min_args:
            yield Call(f"{name} none", formula(function, []))
        if function.min_args > 1:
            yield Call(f"{name} too few", formula(function, good[: function.min_args - 1]))
        if function.max_args is not None:
            yield Call(f"{name} too many", formula(function, ["1"] * (function.max_args + 1)))
        for position, argument in enumerate(function.arguments):
            padded = good + [""] * (position + 1 - len(good))

            put = partial(with_argument, function, padded, position)

            for number, bad in enumerate(argument.kind.bad_values):
                yield Call(f"{name} {argument.name} refuses {number}", put(written(bad.raw)))
            for kind, text in KINDS.items():
                stand_in = put(STAND_INS[kind]) if kind in STAND_INS else ""
                yield Call(f"{name} {argument.name} {kind}", put(text), kind, stand_in)


ALL = list({call.name: call for call in calls()}.values())
AREAS = list(array_areas())


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Column A: the calls; column B: the same with the number that Calc takes the argument for."""
    workbook = openpyxl.Workbook()
    sheet = workbook.worksheets[0]
    sheet.title = CALLS
    data = workbook.create_sheet(DATA)
    for cell, value in CELLS.items():
        data[cell] = value
    data["E2"].number_format = "yyyy-mm-dd"
    for row, cells in enumerate((cells for block in BLOCKS for cells in block), start=1):
        for column, value in enumerate(cells, start=FIRST_BLOCK_COLUMN):
            data.cell(row, column, value)
    for row, call in enumerate(ALL, start=1):
        sheet.cell(row, 1, call.formula)
        if call.stand_in:
            sheet.cell(row, 2, call.stand_in)
    arrays = workbook.create_sheet(ARRAYS)
    for _, cells, text in AREAS:
        arrays[cells.partition(":")[0]] = ArrayFormula(cells, text)
    path = tmp_path_factory.mktemp("conformance") / "calls.xlsx"
    workbook.save(path)
    return path


def headless_book(book: Path, functions: Mapping[str, Any], name: str) -> openpyxl.Workbook:
    target = book.with_name(name)
    report = recalculate(book, target, functions)
    assert not [issue for issue in report.issues if issue.refused]
    return openpyxl.load_workbook(target, data_only=True)


def called(book: openpyxl.Workbook) -> list[list[object]]:
    return [[book[CALLS].cell(row, column).value for column in (1, 2)] for row in range(1, len(ALL) + 1)]


def filled(book: openpyxl.Workbook) -> dict[str, list[list[object]]]:
    return {name: [[cell.value for cell in row] for row in book[ARRAYS][cells]] for name, cells, _ in AREAS}


@pytest.fixture(scope="module")
def headless_file(book: Path) -> openpyxl.Workbook:
    return headless_book(book, FUNCTIONS, "headless.xlsx")


@pytest.fixture(scope="module")
def headless(headless_file: openpyxl.Workbook) -> list[list[object]]:
    return called(headless_file)


@pytest.fixture(scope="module")
def excel_file(book: Path, through_xlwings: Mapping[str, Any]) -> openpyxl.Workbook:
    return headless_book(book, through_xlwings, "excel.xlsx")


@pytest.fixture(scope="module")
def excel(excel_file: openpyxl.Workbook) -> list[list[object]]:
    return called(excel_file)


@pytest.fixture(scope="module")
def calc_values(book: Path, calc: Any) -> tuple[list[list[object]], dict[str, list[list[object]]]]:
    def plain(cells: list[list[Any]]) -> list[list[object]]:
        return [[cell["error"] if isinstance(cell, dict) else cell for cell in row] for row in cells]

    calc.open(str(book))
    calls = plain(calc.read(CALLS, f"A1:B{len(ALL)}"))
    arrays = {name: plain(calc.read(ARRAYS, cells)) for name, cells, _ in AREAS}
    calc.close()
    return calls, arrays


@pytest.fixture(scope="module")
def in_calc(calc_values: tuple[list[list[object]], Any]) -> list[list[object]]:
    return calc_values[0]


def same(left: object, right: object) -> bool:
    if isinstance(left, int | float) and isinstance(right, int | float):
        return math.isclose(left, right, rel_tol=1e-9, abs_tol=1e-9)
    return (left or "") == (right or "")


def test_calls_cover_every_function_argument_and_kind():
    assert len(ALL) > 1000
    for name, function in FUNCTIONS.items():
        for argument in function.arguments:
            kinds = {call.kind for call in ALL if call.name.startswith(f"{name} {argument.name} ")}
            assert kinds >= set(KINDS)


def test_xlwings_path_equals_headless(headless, excel):
    different = [
        f"{call.name}: {call.formula} headless {ours[0]!r}, xlwings {theirs[0]!r}"
        for call, ours, theirs in zip(ALL, headless, excel, strict=True)
        if not same(ours[0], theirs[0])
    ]
    assert not different, "\n".join(different)


def test_calc_equals_headless(headless, in_calc):
    different = [
        f"{call.name}: {call.formula} headless {ours[0]!r}, Calc {theirs[0]!r}"
        for call, ours, theirs in zip(ALL, headless, in_calc, strict=True)
        if call.kind not in DIFFERENCES and not same(ours[0], theirs[0])
    ]
    assert not different, "\n".join(different)


@pytest.mark.parametrize("kind", STAND_INS)
def test_calc_takes_blank_and_logical_for_a_number(headless, in_calc, kind):
    told_apart = 0
    for call, ours, theirs in zip(ALL, headless, in_calc, strict=True):
        if call.kind == kind:
            assert same(ours[1], theirs[0]), f"{call.name}: {call.formula} {theirs[0]!r}"
            told_apart += not same(ours[0], ours[1])
    assert told_apart, "the difference is gone: take it off the list"


def test_every_cell_of_every_array_is_the_same_in_all_hosts(headless_file, excel_file, calc_values):
    """Texts, blanks and the cells outside a shorter result too; a sum of the array would pass over them."""
    ours = filled(headless_file)
    for host, theirs in (("xlwings", filled(excel_file)), ("Calc", calc_values[1])):
        different = [
            f"{name} row {row} column {column}: headless {mine!r}, {host} {other!r}"
            for name, _, _ in AREAS
            for row, (left, right) in enumerate(zip(ours[name], theirs[name], strict=True), start=1)
            for column, (mine, other) in enumerate(zip(left, right, strict=True), start=1)
            if not same(mine, other)
        ]
        assert not different, "\n".join(different[:20])
    assert {name for name, _, _ in AREAS} == {n for n, function in FUNCTIONS.items() if function.shape}
    assert any(
        isinstance(cell, str) and not cell.startswith("#")
        for rows in ours.values()
        for r in rows
        for cell in r
    )


def test_range_with_an_error_is_value_in_calc(headless, in_calc):
    for call, ours, theirs in zip(ALL, headless, in_calc, strict=True):
        if call.kind == "range with an error":
            assert ours[0] == "#DIV/0!"
            assert theirs[0] == "#VALUE!", call.name
