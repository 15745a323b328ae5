"""Result files as pandas, openpyxl and LibreOffice read them; nothing in them is a formula."""

from __future__ import annotations

import csv
import shutil
import subprocess

import numpy as np
import openpyxl
import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.files.celltext import escape_formula, unescape_formula
from xlcalc.io.lists.numerals import Numeral
from xlcalc.io.results.output import check_output, write_tables

DANGEROUS = ["=1+1", "+1", "-1+2", "@SUM(A1)", "\t=1", '=HYPERLINK("x")', "'=quoted", "plain", "Lüfter"]
TABLE = pd.DataFrame(
    {
        "=heading": DANGEROUS,
        "number": [1.5, -2.0, np.nan, np.inf, 0.0, 1e300, 7.0, 8.0, 9.0],
        "mixed": ["a", 1.0, None, True, Numeral(94.0, "%"), "=x", "", "b", "c"],
    }
)
EMPTY = pd.DataFrame(columns=["row", "column"])


def test_workbook_holds_texts_not_formulas(tmp_path):
    path = tmp_path / "out.xlsx"
    assert write_tables({"drives": TABLE, "problems": EMPTY}, path) == (path,)
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["drives", "problems"]
    cells = [cell for row in book["drives"].iter_rows() for cell in row]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    assert [row[0].value for row in book["drives"].iter_rows(min_row=2)] == DANGEROUS
    assert book["drives"]["A1"].value == "=heading"
    assert [row[1].value for row in book["drives"].iter_rows(min_row=2)][:5] == [1.5, -2, None, None, 0]
    assert book["drives"]["A2"].quotePrefix
    assert [cell.value for cell in book["problems"][1]] == ["row", "column"]


def test_numbers_texts_and_long_tables_as_openpyxl_reads_them(tmp_path):
    """More rows than are written at once; numpy's own scalars; characters that XML knows or forbids."""
    count = 4500
    table = pd.DataFrame(
        {
            "number": np.linspace(-1e-9, 1e9, count),
            "scalar": [np.float64(0.1), np.int64(3), np.bool_(True), 2**40, np.nan] * (count // 5),
            "text": ["<a & b>", " padded ", "two\nlines", "bell\a", "10 µF"] * (count // 5),
        }
    )
    write_tables({"first": EMPTY, "t": table}, tmp_path / "out.xlsx")
    rows = list(openpyxl.load_workbook(tmp_path / "out.xlsx")["t"].iter_rows(min_row=2, values_only=True))
    assert [row[0] for row in rows] == table["number"].tolist()
    assert [row[1] for row in rows[:5]] == [0.1, 3, True, 2**40, None]
    assert [row[2] for row in rows[-5:]] == ["<a & b>", " padded ", "two\nlines", "bell\ufffd", "10 µF"]


def test_workbook_in_libreoffice(tmp_path):
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice is not installed")
    write_tables({"drives": TABLE[["=heading", "number"]]}, tmp_path / "out.xlsx")
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    convert = [office, profile, "--headless", "--convert-to", "csv", "--outdir", str(tmp_path / "x")]
    subprocess.run(
        [*convert, str(tmp_path / "out.xlsx")], check=True, capture_output=True, timeout=120, cwd=tmp_path
    )
    with (tmp_path / "x" / "out.csv").open(encoding="cp1252", newline="") as stream:
        rows = list(csv.reader(stream))
    assert [row[0] for row in rows] == ["=heading", *DANGEROUS]
    assert rows[1][1] == "1.5"


def test_csv_cells_cannot_be_formulas_and_come_back(tmp_path):
    path = tmp_path / "out.csv"
    written = write_tables({"drives": TABLE, "problems": EMPTY}, path)
    assert [p.name for p in written] == ["out.csv", "out_problems.csv"]
    with path.open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    texts = [row[0] for row in rows]
    assert not [text for text in texts if text.startswith(("=", "+", "-", "@", "\t", "\r"))]
    assert [unescape_formula(text) for text in texts[1:]] == DANGEROUS
    assert rows[2][1] == "-2.0"
    assert rows[5][2] == "94 %"


def test_csv_cells_with_signs_of_the_format_come_back(tmp_path):
    texts = ["a, b", 'say "no"', '"', "two\nlines", "two\r\nlines", "\r", " blank ends ", "", "ü; µ", ","]
    table = pd.DataFrame({"te,xt": texts, "number": [0.1] * len(texts), "whole": range(len(texts))})
    write_tables({"drives": table}, tmp_path / "out.csv")
    read = pd.read_csv(tmp_path / "out.csv", encoding="utf-8-sig", keep_default_na=False)
    assert list(read.columns) == list(table.columns)
    with (tmp_path / "out.csv").open(encoding="utf-8-sig", newline="") as stream:
        rows = list(csv.reader(stream))
    assert [unescape_formula(row[0]) for row in rows[1:]] == texts
    assert [row[1:] for row in rows[1:]] == [["0.1", str(n)] for n in range(len(texts))]


@pytest.mark.parametrize("text", [*DANGEROUS, "", "'", "''", "'plain", "''=x"])
def test_harmless_and_back(text):
    assert unescape_formula(escape_formula(text)) == text


def test_parquet_as_pandas_reads_it(tmp_path):
    pytest.importorskip("pyarrow")
    path = tmp_path / "out.parquet"
    write_tables({"drives": TABLE}, path)
    read = pd.read_parquet(path)
    assert read["=heading"].tolist() == DANGEROUS
    assert read["number"].dtype == float
    assert read["mixed"].tolist()[:2] == ["a", "1"]


def test_csv_in_libreoffice_shows_text(tmp_path):
    """The program that would run a formula from a CSV file shows ours as text."""
    office = shutil.which("soffice") or shutil.which("libreoffice")
    if office is None:
        pytest.skip("LibreOffice is not installed")
    write_tables({"drives": TABLE[["=heading", "number"]]}, tmp_path / "out.csv")
    profile = f"-env:UserInstallation=file://{tmp_path / 'profile'}"
    convert = [office, profile, "--headless", "--convert-to", "xlsx", "--outdir", str(tmp_path / "x")]
    subprocess.run(
        [*convert, str(tmp_path / "out.csv")], check=True, capture_output=True, timeout=120, cwd=tmp_path
    )
    book = openpyxl.load_workbook(tmp_path / "x" / "out.xlsx")
    cells = [cell for row in book.active.iter_rows() for cell in row]
    assert not [cell.coordinate for cell in cells if cell.data_type == "f"]
    assert unescape_formula(str(book.active["A2"].value)) == "=1+1"


@pytest.mark.parametrize("name", ["out.xls", "out", "no/such/folder/out.csv"])
def test_other_outputs_are_refused_before_any_work(tmp_path, name):
    with pytest.raises(InputError):
        check_output(tmp_path / name)


@pytest.mark.parametrize("which", ["folder", "file"])
def test_what_is_read_only_is_refused_before_any_work(tmp_path, which):
    folder = tmp_path / "results"
    folder.mkdir()
    target = folder / "out.xlsx"
    target.write_text("mine")
    place = folder if which == "folder" else target
    place.chmod(0o555)
    try:
        with pytest.raises(InputError, match="is read-only"):
            check_output(target)
    finally:
        place.chmod(0o755)
    check_output(target, overwrite=True)
    with pytest.raises(InputError, match="--overwrite"):
        check_output(target)


def test_numbers_with_decimals_keep_their_value_and_show_the_digits_that_matter(tmp_path):
    table = pd.DataFrame({"thd pct": [36.02238813448257, 0.1], "share": [-0.84, 0.5], "units": [2.0, 3.0]})
    write_tables({"drives": table}, tmp_path / "out.xlsx")
    sheet = openpyxl.load_workbook(tmp_path / "out.xlsx")["drives"]
    assert sheet["A2"].value == 36.02238813448257
    assert [sheet[cell].number_format for cell in ("A2", "B2", "C2")] == ["0.00", "0.0000", "General"]
