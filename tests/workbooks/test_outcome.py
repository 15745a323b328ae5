"""The outcome of a workbook is the worst of all that it judged, whatever one cell says."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from xlcalc.core.errors import InputError
from xlcalc.files.books import names
from xlcalc.workbooks.outcome import read_outcome

Row = tuple[str, str, str, str]


def outcome_of(stated: str, rows: list[Row], reason: str = "") -> tuple[str, str]:
    book = Workbook()
    sheet = book.active
    sheet["A1"], sheet["A2"] = stated, reason
    for number, row in enumerate(rows, start=5):
        for column, value in enumerate(row, start=1):
            sheet.cell(number, column).value = value
    names.define(book, names.STUDY_VERDICT, sheet, "A1")
    names.define(book, names.STUDY_REASON, sheet, "A2")
    names.define(book, names.STUDY_VERDICTS, sheet, f"A5:D{4 + max(len(rows), 1) + 3}")
    found = read_outcome(book, "book.xlsx")
    return found.word, found.sentence


def test_all_pass() -> None:
    rows = [("PCC Mill", "grid", "PASS", ""), ("PCC Mill", "night", "PASS", "")]
    assert outcome_of("PASS", rows) == ("PASS", "PASS: 2 of 2 checks")


def test_one_failing_case_decides_though_the_shown_one_passes() -> None:
    rows = [("PCC Mill", "grid", "PASS", ""), ("PCC Mill", "night", "FAIL", "TDD 16 % of 15 %")]
    word, sentence = outcome_of("PASS", rows)
    assert word == "FAIL"
    assert sentence == "FAIL: 1 of 2 checks, the first: PCC Mill, night (TDD 16 % of 15 %)"


def test_fail_stands_beside_something_without_verdict() -> None:
    rows = [("PCC Mill", "grid", "NO VERDICT", "IL"), ("notches, MCC", "", "FAIL", "")]
    assert outcome_of("FAIL", rows)[0] == "FAIL"


@pytest.mark.parametrize("stated", ["", "#VALUE!", "NO VERDICT", "pass", "#N/A"])
def test_a_study_in_doubt_has_no_verdict(stated: str) -> None:
    word, sentence = outcome_of(stated, [("PCC", "", "PASS", "")], "Drives!D11 is '15 HP'")
    assert word == "NO VERDICT"
    assert "Drives!D11" in sentence


@pytest.mark.parametrize("odd", ["#VALUE!", "OK", "PASS?", "#DIV/0!"])
def test_anything_but_the_words_is_no_verdict(odd: str) -> None:
    assert outcome_of("PASS", [("PCC", "", "PASS", ""), ("bank", "", odd, "")])[0] == "NO VERDICT"


def test_what_was_not_supplied_does_not_count() -> None:
    rows = [("PCC", "grid", "PASS", ""), ("PCC", "island", "not supplied", ""), ("cable", "", "NO DATA", "")]
    assert outcome_of("PASS", rows) == ("PASS", "PASS: 1 of 1 checks")


def test_a_workbook_without_its_table_is_refused() -> None:
    with pytest.raises(InputError, match="verdict of everything"):
        read_outcome(Workbook(), "old.xlsx")
