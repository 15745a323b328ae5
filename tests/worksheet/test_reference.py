"""The Markdown reference is generated, complete, and the checked-in copy is current."""

from __future__ import annotations

from pathlib import Path

from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.reference import markdown

PAGE = Path(__file__).parents[2] / "workbook_templates" / "FUNCTIONS.md"


def test_checked_in_page_is_current():
    assert PAGE.read_text(encoding="utf-8") == markdown(FUNCTIONS)


def test_every_function_and_argument_is_named():
    page = markdown(FUNCTIONS)
    for function in FUNCTIONS.values():
        assert f"### {function.name}\n" in page
        for argument in function.arguments:
            assert f"- `{argument.name}`" in page
