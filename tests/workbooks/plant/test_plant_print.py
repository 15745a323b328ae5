"""The plant workbook on paper, as LibreOffice prints it: A4 and Letter, page numbers, nothing cut off."""

from __future__ import annotations

import re
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from openpyxl.worksheet.formula import ArrayFormula

SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")
PDFTOTEXT = shutil.which("pdftotext")
A4, LETTER = 9, 1
SIZES = {A4: (595, 842), LETTER: (612, 792)}
INTERNAL = ("Case settings", "Arrays", "Element spectra")
RESULTS = ("Cases", "PCC", "Other limits", "Impedance", "Transformers", "Equipment", "Power and losses")

pytestmark = pytest.mark.skipif(
    SOFFICE is None or PDFTOTEXT is None, reason="LibreOffice or pdftotext is not installed"
)


@pytest.fixture(scope="module")
def book(recalculated: Callable[..., Any]) -> Path:
    made = recalculated("plant demo")
    assert not made.report.issues
    return Path(made.path)


@pytest.fixture(scope="module")
def printed(book: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[int, tuple[Path, list[str]]]:
    folder = tmp_path_factory.mktemp("print")
    found = {}
    for size in (A4, LETTER):
        source = folder / f"paper{size}.xlsx"
        _on_paper(book, source, size)
        pdf = _converted(source, "pdf", folder)
        done = subprocess.run(
            [str(PDFTOTEXT), "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
        )
        found[size] = (pdf, done.stdout.split("\f")[:-1])
    return found


def _converted(source: Path, kind: str, folder: Path) -> Path:
    command = [str(SOFFICE), "--headless", f"-env:UserInstallation={(folder / 'profile').as_uri()}"]
    command += ["--convert-to", kind, "--outdir", str(folder), str(source)]
    subprocess.run(command, capture_output=True, text=True, timeout=180, check=True)
    return folder / f"{source.stem}.{kind}"


def _on_paper(source: Path, target: Path, size: int) -> None:
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith("xl/worksheets/sheet"):
                content = content.replace(b'paperSize="9"', f'paperSize="{size}"'.encode())
            new.writestr(name, content)


@pytest.mark.parametrize("size", [A4, LETTER])
def test_paper_and_page_numbers(printed: dict[int, tuple[Path, list[str]]], size: int) -> None:
    pdf, pages = printed[size]
    boxes = re.findall(rb"/MediaBox\s*\[([^\]]*)\]", pdf.read_bytes())
    sides = {round(float(value)) for box in boxes for value in box.split()[2:]}
    assert sides == set(SIZES[size])
    for number, text in enumerate(pages, start=1):
        assert f"Page {number} of {len(pages)}" in text
        assert "Preliminary study: verify by measurement" in text


@pytest.mark.parametrize("size", [A4, LETTER])
def test_no_page_is_empty_and_no_number_too_wide(
    printed: dict[int, tuple[Path, list[str]]], size: int
) -> None:
    """A page of spare rows alone would hold little more than header, footer and the repeated title rows.

    The print area of the sheet Drives ends at the last drive by a formula, which LibreOffice does not follow.
    """
    for number, text in enumerate(printed[size][1], start=1):
        assert "###" not in text, f"page {number}"
        for error in ("#NAME?", "#VALUE!", "#REF!", "#N/A", "#DIV/0!", "Err:"):
            assert error not in text or "Function reference" in text[:400], f"page {number}"
        if not text.splitlines()[0].endswith((*INTERNAL, "Drives")):
            body = text.splitlines()[6:-2]
            assert sum(bool(line.strip()) for line in body) > 2, f"page {number}"


def test_results_start_on_the_same_pages(printed: dict[int, tuple[Path, list[str]]]) -> None:
    """Each sheet of results takes as many pages on Letter as on A4."""
    counts = {}
    for size, (_, pages) in printed.items():
        headers = [
            text.splitlines()[0].split("study", 1)[-1].strip() if text.strip() else "" for text in pages
        ]
        counts[size] = {sheet: headers.count(sheet) for sheet in RESULTS}
    assert counts[A4] == counts[LETTER]
    assert counts[A4] == {
        "Cases": 7,
        "PCC": 2,
        "Other limits": 1,
        "Impedance": 1,
        "Transformers": 1,
        "Equipment": 3,
        "Power and losses": 1,
    }


def test_what_the_sheets_show_is_printed(book: Path, printed: dict[int, tuple[Path, list[str]]]) -> None:
    """Every element's row, with its last column: no column is lost at the right edge."""
    text = "\n".join(printed[A4][1])
    sheet = load_workbook(book, data_only=True)["Transformers"]
    shown = [row for row in sheet.iter_rows(min_row=8, values_only=True) if row[1] in ("dry", "liquid")]
    assert [row[0] for row in shown] == [
        "TG",
        "TP",
        "TF",
        "TM",
        "TM secondary",
        "TM tertiary",
    ]
    for row in shown:
        lines = (line for line in text.splitlines() if re.match(rf"\s*{row[0]}\s+{row[1]}\s", line))
        line = max(lines, key=len)
        assert line.split()[-1] == f"{row[18]:,.0f}"


def test_ordinary_formulas_agree(book: Path, tmp_path: Path) -> None:
    """Cells of our functions are given their values; LibreOffice computes all others from nothing."""
    ours, ordinary = load_workbook(book, data_only=True), load_workbook(book)
    kept = []
    for sheet in ordinary.worksheets:
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            own = cell.data_type == "f" and "HD_" in str(cell.value)
            if isinstance(cell.value, ArrayFormula) or own:
                cell.value = ours[sheet.title][cell.coordinate].value
            elif cell.data_type == "f":
                kept.append((sheet.title, cell.coordinate))
    source = tmp_path / "ordinary.xlsx"
    ordinary.save(source)
    (tmp_path / "out").mkdir()
    theirs = load_workbook(_converted(source, "xlsx", tmp_path / "out"), data_only=True)
    for title, place in kept:
        mine, other = ours[title][place].value, theirs[title][place].value
        if isinstance(mine, float | int):
            assert other == pytest.approx(mine, rel=1e-9, abs=1e-9), f"{title}!{place}"
        else:
            assert (other or None) == (mine or None), f"{title}!{place}"
    assert len(kept) > 4000
