"""No text of a user becomes a formula in anything that is written; a logical value is no number."""

from __future__ import annotations

import csv
import unicodedata

import openpyxl
import pandas as pd
import pytest

from xlcalc.drawing import style
from xlcalc.files.celltext import STARTS, escape_formula, unescape_formula
from xlcalc.io.results.output import write_tables
from xlcalc.workbooks.kit import page

SIGNS = [
    chr(code)
    for code in range(0x110000)
    if unicodedata.normalize("NFKC", chr(code)).startswith(("=", "+", "-", "@"))
]
TEXTS = [f"{sign}1+1" for sign in (*SIGNS, "\t", "\r", "\n", "'=", "''＝")]


def test_every_form_of_the_signs_is_guarded_and_comes_back():
    assert len(SIGNS) >= 19
    for text in TEXTS:
        assert escape_formula(text).startswith("'")
        assert unescape_formula(escape_formula(text)) == text


@pytest.mark.parametrize("place", ["heading", "cell", "both"])
def test_tables_in_every_format(tmp_path, place):
    heading = TEXTS if place != "cell" else ["a"]
    cells = TEXTS if place != "heading" else ["a"]
    table = pd.DataFrame(dict.fromkeys(heading, cells))
    write_tables({"t": table}, tmp_path / "o.csv")
    with (tmp_path / "o.csv").open(encoding="utf-8-sig", newline="") as stream:
        assert not [cell for row in csv.reader(stream) for cell in row if cell.startswith(STARTS)]
    write_tables({"t": table}, tmp_path / "o.xlsx")
    for row in openpyxl.load_workbook(tmp_path / "o.xlsx")["t"].iter_rows():
        for cell in row:
            assert cell.data_type == "s"
            assert cell.quotePrefix or not cell.value.startswith(STARTS)


def test_texts_of_the_printed_pages(tmp_path):
    book = openpyxl.Workbook()
    style.register(book)
    for row, text in enumerate(TEXTS, start=1):
        page.put_text(book.active, row, 1, text, style.BODY)
    book.save(tmp_path / "p.xlsx")
    for cell, text in zip(openpyxl.load_workbook(tmp_path / "p.xlsx").active["A"], TEXTS, strict=True):
        assert cell.data_type == "s"
        assert cell.quotePrefix or not text.startswith(STARTS)


@pytest.mark.parametrize("value", ["true", "false", "[true]", "{ low = true, high = 2 }"])
def test_a_logical_value_is_no_number(run, site, value):
    text = (site / "site.toml").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith('"utility mva"'))
    (site / "bad.toml").write_text(text.replace(line, f'"utility mva" = {value}'), encoding="utf-8")
    result = run("schedule", "drives.csv", "--site", "bad.toml", "-o", "o.csv")
    assert result.refused_in_one_line
    assert "utility mva" in result.err or "low" in result.err
    (site / "spec.toml").write_text(f'[site]\n"utility mva" = {value}\n', encoding="utf-8")
    result = run("sweep", "drives.csv", "--site", "site.toml", "--spec", "spec.toml", "-o", "o.csv")
    assert result.refused_in_one_line
