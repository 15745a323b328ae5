"""Tables below each other in one range."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import InputError
from xlcalc.schema.kinds import Number, Text
from xlcalc.schema.tables import Records, Section, StackedTables
from xlcalc.worksheet.arguments import Argument

ITEMS = Records((Argument("name", Text(), "Name"), Argument("kw", Number(0, 10), "Power", 1.0)), key="name")
STACK = StackedTables((Section("first", ITEMS, required=True), Section("second", ITEMS)))


def test_blank_rows_and_text_above_are_passed_over() -> None:
    rows = [["A heading", None], [None, None], ["First", None], [None, None], ["Name", "kW"], [None, None]]
    rows += [["a", 2.0], [None, ""], ["b", None], ["second", None], ["name", "kw"], [None, None]]
    tables = STACK.convert(rows, "stack")
    columns = {"name": "A", "kw": "B"}
    assert tables["first"] == (
        {"name": "a", "kw": 2.0, "row": 7, "columns": columns},
        {"name": "b", "kw": 1.0, "row": 9, "columns": columns},
    )
    assert tables["second"] == ()


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([["second", None], ["name", "kw"], ["a", 1.0]], "table first of stack is missing"),
        ([["first", None], ["name", "kw"]], "table first of stack is missing"),
        ([["frist", None], ["name", "kw"]], "did you mean 'first'?"),
        ([["first", None], ["name", "kw"], ["a", 1.0], ["first", None]], "title in row 4 of stack"),
        ([["first", None], ["name", None], ["a", 1.0]], "cell without a heading in row 3 of table first"),
        (
            [["first", None], ["name", "kw"], [None, None], ["a", 11.0]],
            "kw in cell B4, row 4 of table first of",
        ),
    ],
)
def test_refusals_name_table_and_row(rows: list[list[object]], words: str) -> None:
    with pytest.raises(InputError) as problem:
        STACK.convert(rows, "stack")
    assert words in str(problem.value)
