"""The finished demo workbook in LibreOffice: prints without error, and ordinary formulas agree with ours."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.formula import ArrayFormula

from xlcalc.recalc.report import RecalculationReport

SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")
PDFTOTEXT = shutil.which("pdftotext")

pytestmark = pytest.mark.skipif(SOFFICE is None, reason="LibreOffice is not installed")

Converter = Callable[[Path, str], Path]


@pytest.fixture(scope="module")
def convert(tmp_path_factory: pytest.TempPathFactory) -> Converter:
    profile = tmp_path_factory.mktemp("profile")
    results = tmp_path_factory.mktemp("converted")

    def run(source: Path, kind: str) -> Path:
        done = subprocess.run(
            [
                str(SOFFICE),
                "--headless",
                f"-env:UserInstallation={profile.as_uri()}",
                "--convert-to",
                kind,
                "--outdir",
                str(results),
                str(source),
            ],
            capture_output=True,
            text=True,
            timeout=180,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        assert "error" not in done.stderr.casefold(), done.stderr
        return results / f"{source.stem}.{kind}"

    return run


def pages(pdf: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf.read_bytes()))


def on_paper(source: Path, target: Path, size: int) -> Path:
    """A copy for another paper; only the print set-up of the sheets is changed."""
    import zipfile

    with zipfile.ZipFile(source) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name.startswith("xl/worksheets/sheet"):
                content = content.replace(b'paperSize="9"', f'paperSize="{size}"'.encode())
            new.writestr(name, content)
    return target


def test_prints_on_a4_and_letter_with_the_same_pages(
    demo_book: tuple[Path, RecalculationReport], convert: Converter, tmp_path: Path
) -> None:
    a4 = convert(on_paper(demo_book[0], tmp_path / "a4.xlsx", 9), "pdf")
    letter = convert(on_paper(demo_book[0], tmp_path / "letter.xlsx", 1), "pdf")
    a4_box, letter_box = (re.search(rb"/MediaBox\s*\[([^\]]*)\]", p.read_bytes()) for p in (a4, letter))
    assert a4_box
    assert letter_box
    assert a4_box[1].split()[2:] != letter_box[1].split()[2:]
    first = [_first_page_of(sheet, a4) for sheet in ("Point of common coupling", "Drive view", "Notes")]
    assert first == [_first_page_of(s, letter) for s in ("Point of common coupling", "Drive view", "Notes")]
    assert pages(a4) >= 10


@pytest.mark.skipif(PDFTOTEXT is None, reason="pdftotext is not installed")
def test_printed_pages_show_no_error(
    demo_book: tuple[Path, RecalculationReport], convert: Converter, tmp_path: Path
) -> None:
    pdf = convert(on_paper(demo_book[0], tmp_path / "shown.xlsx", 9), "pdf")
    text = "\n".join(_texts(pdf))
    for error in ("#NAME?", "#VALUE!", "#REF!", "#N/A", "#DIV/0!", "Err:"):
        assert error not in text
    assert "FAIL" in text
    assert "###" not in text


def test_ordinary_formulas_agree(
    demo_book: tuple[Path, RecalculationReport], convert: Converter, tmp_path: Path
) -> None:
    """Cells of our functions are given their values; LibreOffice computes all others from nothing."""
    ours = load_workbook(demo_book[0], data_only=True)
    source = tmp_path / "ordinary.xlsx"
    ordinary = _with_values_for_our_functions(load_workbook(demo_book[0]), ours)
    kept = {
        (sheet.title, cell.coordinate)
        for sheet in ordinary.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }
    ordinary.save(source)
    assert load_workbook(source, data_only=True)["PCC"]["F14"].value is None
    theirs = load_workbook(convert(source, "xlsx").rename(tmp_path / "computed.xlsx"), data_only=True)
    compared = 0
    for title, place in sorted(kept):
        mine, other = ours[title][place].value, theirs[title][place].value
        if isinstance(mine, float | int):
            assert other == pytest.approx(mine, rel=1e-12, abs=1e-12), f"{title}!{place}"
        else:
            assert (other or None) == (mine or None), f"{title}!{place}"
        compared += 1
    assert compared > 1500


def _with_values_for_our_functions(book: Workbook, values: Workbook) -> Workbook:
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if isinstance(cell.value, ArrayFormula) or (
                    cell.data_type == "f" and "HD_" in str(cell.value)
                ):
                    cell.value = values[sheet.title][cell.coordinate].value
    return book


def _texts(pdf: Path) -> list[str]:
    done = subprocess.run(
        [str(PDFTOTEXT), "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    )
    return done.stdout.split("\f")


def _first_page_of(heading: str, pdf: Path) -> int:
    if PDFTOTEXT is None:
        pytest.skip("pdftotext is not installed")
    return next(number for number, text in enumerate(_texts(pdf)) if heading in text[:400])
