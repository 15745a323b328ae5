"""The Markdown reference is generated, complete, and the checked-in copy is current."""

from __future__ import annotations

from pathlib import Path

import pytest

from xlcalc.core.errors import InputError
from xlcalc.recalc.evaluation.certified import ordinary_functions
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.reference import found_functions, markdown

PAGE = Path(__file__).parents[2] / "workbook_templates" / "FUNCTIONS.md"


def test_checked_in_page_is_current():
    assert PAGE.read_text(encoding="utf-8") == f"{markdown(FUNCTIONS)}\n{ordinary_functions()}"


def test_every_function_and_argument_is_named():
    page = markdown(FUNCTIONS)
    for function in FUNCTIONS.values():
        assert f"### {function.name}\n" in page
        for argument in function.arguments:
            assert f"- `{argument.name}`" in page


def test_names_that_functions_share_are_listed_once():
    page = markdown(FUNCTIONS)
    assert page.count("  - `dc capacitance pu`:") == 3  # of one drive, of a site, of a plant
    assert len(page.splitlines()) < 2300


@pytest.mark.parametrize(
    ("text", "found"),
    [("hd_pcc", ["HD_PCC"]), ("reactor_mh", ["HD_REACTOR_MH"]), ("notch", None)],
)
def test_functions_are_found_by_name_or_word(text, found):
    names = list(found_functions(FUNCTIONS, text))
    assert names == found if found else len(names) > 1


def test_an_unknown_name_is_answered_with_a_similar_one():
    with pytest.raises(InputError, match="HD_SPECTRUM"):
        found_functions(FUNCTIONS, "HD_SPECTUM")
