"""Submittals made from computed workbooks: pages, refusals, digests and what a check tells."""

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

from xlcalc.core.errors import InputError
from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.recalc.xlsx.package import read_stamp
from xlcalc.workbooks.pages import submittal_pdf
from xlcalc.workbooks.pages.submittal import write_submittal
from xlcalc.workbooks.pages.submittal_check import check
from xlcalc.workbooks.pages.submittal_digest import read_record
from xlcalc.workbooks.pages.submittal_pages import COVER, RECORD
from xlcalc.workbooks.pages.submittal_record import CELLS
from xlcalc.worksheet.catalogue import FUNCTIONS

SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")
POPPLER = shutil.which("pdftotext") and shutil.which("pdfinfo")
DIGEST = re.compile(r"[0-9a-f]{64}")


@pytest.fixture(scope="module")
def computed(demo_book: tuple[Path, RecalculationReport]) -> Path:
    return demo_book[0]


@pytest.fixture(scope="module")
def pages(computed: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("submittal") / "pages.xlsx"
    write_submittal(computed, path)
    return path


@pytest.fixture
def stamped(computed: Path, tmp_path: Path) -> Callable[[Callable[[Any], None]], Path]:
    """A copy of the computed workbook, changed through openpyxl, with values and stamp put back.

    This is what somebody would do who wants a change to go unnoticed.
    """

    def make(change: Callable[[Any], None]) -> Path:
        path = tmp_path / "altered.xlsx"
        with zipfile.ZipFile(computed) as old, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
            new.comment = old.comment
            for name in old.namelist():
                content = old.read(name)
                new.writestr(name, change_part(name, content, change))
        return path

    return make


def change_part(name: str, content: bytes, change: Callable[[Any], None]) -> bytes:
    box = {"name": name, "content": content}
    change(box)
    return box["content"]


def in_sheet(computed: Path, title: str, pattern: str, new: str) -> Callable[[Any], None]:
    """A change of the XML of one sheet."""
    number = load_workbook(computed, read_only=True).sheetnames.index(title) + 1

    def change(box: Any) -> None:
        if box["name"] == f"xl/worksheets/sheet{number}.xml":
            text = box["content"].decode()
            changed = re.sub(pattern, new, text, count=1)
            assert changed != text
            box["content"] = changed.encode()

    return change


def test_pages_hold_what_a_reviewer_needs(computed: Path, pages: Path) -> None:
    book = load_workbook(pages)
    visible = [sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert visible == [
        *(COVER, "Single-line", "Basis", "Summary", "PCC", "Phases", "Drive view", "Front ends", "Magnetics"),
        *("Site", "Drives", "Notes", RECORD),
    ]
    cover = "\n".join(str(c.value) for row in book[COVER].iter_rows() for c in row if c.value is not None)
    values = load_workbook(computed, data_only=True)
    assert f"{values['Summary']['A5'].value}: {values['Summary']['C5'].value}" in cover
    assert "Document number" in cover
    stamp = str(read_stamp(computed))
    assert stamp.split()[1] in cover
    assert stamp.split()[2][:10] in cover
    assert "Preliminary study" in book["PCC"].oddHeader.center.text
    assert "all agree" in cover
    assert "dangerous voltages" in cover
    assert not DIGEST.findall(cover)
    record = "\n".join(str(c.value) for row in book[RECORD].iter_rows() for c in row if c.value is not None)
    assert len(set(DIGEST.findall(record))) == 2
    printed = [
        str(c.value)
        for sheet in book.worksheets
        if sheet.sheet_state == "visible"
        for row in sheet.iter_rows()
        for c in row
        if c.value is not None and not sheet.row_dimensions[c.row].hidden
    ]
    for hint in ("memory", "Choose its tag", "Sand-coloured", "One row per drive"):
        assert not [text for text in printed if hint in text]


def test_every_value_is_a_copy_and_no_formula_is_left(computed: Path, pages: Path) -> None:
    book, values = load_workbook(pages), load_workbook(computed, data_only=True)
    compared = 0
    for title in ("PCC", "Drive view", "Site", "Drives"):
        for row in book[title].iter_rows():
            for cell in row:
                assert cell.data_type != "f"
                theirs = values[title][cell.coordinate].value
                if cell.coordinate == "A2" or (title == "Site" and cell.column == 3 and cell.value is None):
                    continue
                if isinstance(theirs, float):
                    assert cell.value == pytest.approx(theirs, rel=1e-14)
                else:
                    assert cell.value == theirs
                compared += cell.value is not None
    assert compared > 1500


def test_footers_count_the_pages_within_the_limit_of_the_format(computed: Path, pages: Path) -> None:
    digest = read_record(computed).inputs_digest
    with zipfile.ZipFile(pages) as archive:
        sheets = [archive.read(n).decode() for n in archive.namelist() if n.startswith("xl/worksheets/sheet")]
    footers = [re.search(r"<oddFooter>(.*?)</oddFooter>", text) for text in sheets]
    printed = [found[1].replace("&amp;", "&") for found in footers if found and found[1]]
    assert len(printed) == 13
    for footer in printed:
        assert digest not in footer
        assert "Page &P of &N" in footer
        assert len(footer) <= 255


@pytest.mark.skipif(SOFFICE is None or not POPPLER, reason="LibreOffice, pdftotext or pdfinfo is missing")
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_pdf_has_numbered_pages_with_the_digest_and_nothing_cut_off(
    computed: Path, tmp_path: Path, paper: str
) -> None:
    book, pdf = tmp_path / "pages.xlsx", tmp_path / "pages.pdf"
    source = write_submittal(computed, book, paper, proof=False)
    submittal_pdf.write_pdf(book, pdf, submittal_pdf.office_for_pdf())
    info = subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True, check=True).stdout
    assert ("A4" if paper == "a4" else "letter") in info
    count = int(re.search(r"Pages:\s+(\d+)", info)[1])
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    sheets = text.split("\f")[:count]
    for number, page in enumerate(sheets, start=1):
        assert f"Page {number} of {count}" in page
        assert (source.record.inputs_digest in page) is (number == count)
        assert "verify by measurement" in page
    for error in ("###", "#NAME?", "#VALUE!", "#REF!", "Err:"):
        assert error not in text
    squeezed = "".join(text.split())
    for title in ("PCC", "Site", "Drives"):
        for row in load_workbook(book)[title].iter_rows():
            for cell in row:
                if not isinstance(cell.value, str):
                    continue
                folded = cell.parent.column_dimensions[cell.column_letter].hidden
                if not (folded or cell.parent.row_dimensions[cell.row].hidden):
                    words = cell.value.split()
                    assert all(word in squeezed for word in words), (title, cell.coordinate, cell.value)


def test_long_texts_get_room(computed: Path, tmp_path: Path) -> None:
    """A description of the schedule far longer than its column: wrapped, in a row high enough."""
    source, target = tmp_path / "long.xlsx", tmp_path / "pages.xlsx"
    book = load_workbook(computed)
    drives = book["Drives"]
    row, _, column = next(
        (r, c, next(x.column for x in drives[r] if x.value == "Description"))
        for r in range(1, 30)
        for c in [0]
        if any(x.value == "Description" for x in drives[r])
    )
    drives.cell(row + 1, column).value = "conveyor in the north hall " * 8
    book.save(source)
    recalculate(source, None, FUNCTIONS)
    write_submittal(source, target, proof=False)
    sheet = load_workbook(target)["Drives"]
    assert sheet.cell(row + 1, column).alignment.wrap_text
    assert sheet.row_dimensions[row + 1].height > 60


def test_workbook_that_was_not_computed_is_refused(template: Path, computed: Path, tmp_path: Path) -> None:
    with pytest.raises(WorkbookFileError, match=r"stamped 'xlcalc .* template'"):
        write_submittal(template, tmp_path / "out.xlsx")
    saved = tmp_path / "saved.xlsx"
    load_workbook(computed).save(saved)
    with pytest.raises(WorkbookFileError, match="no stamp of a calculation; run xlcalc recalc"):
        write_submittal(saved, tmp_path / "out.xlsx")
    assert not (tmp_path / "out.xlsx").exists()


def test_cells_without_result_or_with_errors_are_named(
    computed: Path, stamped: Callable[[Callable[[Any], None]], Path], tmp_path: Path
) -> None:
    blank = stamped(in_sheet(computed, "PCC", r'(<c r="D14"[^>]*>.*?</f>)<v>[^<]*</v>', r"\1"))
    with pytest.raises(WorkbookFileError, match=r"without a result: PCC!D14;"):
        write_submittal(blank, tmp_path / "out.xlsx")
    wrong = stamped(
        in_sheet(
            computed,
            "PCC",
            r'<c r="D15"( s="\d+")?[^>]*>(.*?</f>)<v>[^<]*</v>',
            r'<c r="D15"\1 t="e">\2<v>#NUM!</v>',
        )
    )
    with pytest.raises(WorkbookFileError, match=r"errors: PCC!D15 #NUM!"):
        write_submittal(wrong, tmp_path / "out.xlsx")


def test_results_that_do_not_follow_from_the_inputs_are_named(
    computed: Path, stamped: Callable[[Callable[[Any], None]], Path], tmp_path: Path
) -> None:
    """A result written over in the file, with the stamp kept: calculating a copy finds it."""
    altered = stamped(in_sheet(computed, "PCC", r'(<c r="D14"[^>]*>.*?</f>)<v>[^<]*</v>', r"\1<v>3.21</v>"))
    with pytest.raises(WorkbookFileError, match=r"do not follow from its inputs: PCC!D14\."):
        write_submittal(altered, tmp_path / "out.xlsx")
    write_submittal(altered, tmp_path / "out.xlsx", proof=False)
    cover = load_workbook(tmp_path / "out.xlsx")[COVER]
    assert any("not calculated again" in str(c.value) for row in cover.iter_rows() for c in row)


def test_other_workbooks_are_refused(tmp_path: Path) -> None:
    from openpyxl import Workbook

    path = tmp_path / "own.xlsx"
    book = Workbook()
    book.worksheets[0]["A1"] = "=1+1"
    book.save(path)
    recalculate(path, None, FUNCTIONS)
    with pytest.raises(InputError, match="made from a template"):
        write_submittal(path, tmp_path / "out.xlsx")


def test_check_of_the_same_workbook(computed: Path, pages: Path) -> None:
    found = check(computed, str(pages))
    assert found.unaltered
    assert (found.inputs_same, found.results_same, found.rest_same) == (True, True, True)
    assert (found.differences, found.pages, found.not_made) == ((), (), "")
    assert check(computed, found.record.inputs_digest.upper()).unaltered
    assert not check(computed, "0" * 64).unaltered


def test_changed_input_formula_and_result_are_named(
    computed: Path, pages: Path, stamped: Callable[[Callable[[Any], None]], Path]
) -> None:
    changed = check(
        stamped(in_sheet(computed, "Site", r'(<c r="B22"[^>]*>)<v>[^<]*</v>', r"\1<v>77</v>")), str(pages)
    )
    assert (changed.inputs_same, changed.results_same) == (False, True)
    assert [(d.place, d.part, d.now) for d in changed.differences] == [("Site!B22", "input", "77")]
    formula = check(stamped(in_sheet(computed, "PCC", r"<f>E14-D14</f>", "<f>E14-D14*0.9</f>")), str(pages))
    assert (formula.inputs_same, formula.results_same) == (False, True)
    assert [(d.place, d.part) for d in formula.differences] == [("PCC!F14", "formula")]
    result = check(
        stamped(in_sheet(computed, "PCC", r'(<c r="D14"[^>]*>.*?</f>)<v>[^<]*</v>', r"\1<v>1.5</v>")),
        str(pages),
    )
    assert (result.inputs_same, result.results_same) == (True, False)
    assert [(d.place, d.now) for d in result.differences] == [("PCC!D14", "1.5")]
    assert not any(found.unaltered for found in (changed, formula, result))


def test_properties_formats_and_saving_again_do_not_count(computed: Path, tmp_path: Path) -> None:
    """openpyxl saves inputs and formulas anew and drops all results: the inputs are as they were."""
    book = load_workbook(computed)
    book.properties.creator = "somebody else"
    book["PCC"].column_dimensions["A"].width = 40
    saved = tmp_path / "saved.xlsx"
    book.save(saved)
    then, now = read_record(computed), read_record(saved)
    assert then.inputs_digest == now.inputs_digest
    assert then.results_digest != now.results_digest
    assert now.stamp is None
    recalculate(saved, None, FUNCTIONS)
    assert read_record(saved).inputs_digest == then.inputs_digest


@pytest.mark.skipif(SOFFICE is None, reason="LibreOffice is not installed")
def test_saving_in_calc_drops_the_stamp_and_is_told_by_cell(
    computed: Path, pages: Path, tmp_path: Path
) -> None:
    """Calc without the functions: inputs and formulas are as they were, results of the functions are lost."""
    command = [str(SOFFICE), "--headless", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"]
    command += ["--convert-to", "xlsx", "--outdir", str(tmp_path / "calc"), str(computed)]
    subprocess.run(command, check=True, capture_output=True)
    saved = tmp_path / "calc" / computed.name
    assert read_stamp(saved) is None
    found = check(saved, str(pages))
    assert found.stamp is None
    assert (found.inputs_same, found.results_same) == (True, False)
    assert {d.part for d in found.differences} == {"result", "formats or settings"}
    assert "no stamp of a calculation" in found.not_made
    lost = [d.now for d in found.differences if d.part == "result" and d.place.startswith("Arrays")]
    assert set(lost) == {"#NAME?"}
    with pytest.raises(WorkbookFileError, match="no stamp"):
        write_submittal(saved, tmp_path / "out.xlsx")


def test_altered_pages_and_records_are_told(computed: Path, pages: Path, tmp_path: Path) -> None:
    book = load_workbook(pages)
    book["PCC"]["D14"] = 1.0
    edited = tmp_path / "edited.xlsx"
    book.save(edited)
    found = check(computed, str(edited))
    assert {"file", "page PCC!D14", "edited.xlsx"} <= {d.place for d in found.pages}
    assert not found.unaltered
    book = load_workbook(pages)
    cell = next(c for c in book[CELLS]["A"] if '"input", "Site", "B22"' in c.value)
    cell.value = '\'["input", "Site", "B22", "77"]'
    book.save(edited)
    found = check(computed, str(edited))
    assert [(d.place, d.then) for d in found.differences] == [("Site!B22", "77")]
    assert not found.inputs_same
    cell.value = "'not JSON"
    book.save(edited)
    with pytest.raises(InputError, match="altered"):
        check(computed, str(edited))
    with pytest.raises(InputError, match="xlcalc submittal wrote"):
        check(computed, str(computed))


def test_targets_that_cannot_be(computed: Path, tmp_path: Path) -> None:
    for target, paper in ((tmp_path / "out.pdf", "a4"), (computed, "a4"), (tmp_path / "out.xlsx", "a5")):
        with pytest.raises(InputError):
            write_submittal(computed, target, paper)


def test_missing_libreoffice_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    monkeypatch.setattr("xlcalc.hosts.libreoffice.programs.office._PLACES", ())
    with pytest.raises(InputError, match="LibreOffice"):
        submittal_pdf.office_for_pdf()


def test_every_kind_of_drive_has_its_spectrum_and_waveform(computed: Path, pages: Path) -> None:
    """The shown THD is that of the worksheet function, which the sheet Drives holds for each row."""
    book, values = load_workbook(pages), load_workbook(computed, data_only=True)
    rows = [[cell.value for cell in row] for row in values["Drives"].iter_rows()]
    top = next(k for k, row in enumerate(rows) if row[0] == "Tag")
    thd = rows[top].index("THD (%)")
    of_tag = {str(row[0]): row[thd] for row in rows[top + 1 :] if row[0]}
    sheet = book["Front ends"]
    listed = [row for row in sheet.iter_rows(min_row=5, values_only=True) if isinstance(row[0], int)]
    assert sum(row[2] for row in listed) == sum(
        row[rows[top].index("Quantity")] or 1 for row in rows[top + 1 :] if row[0]
    )
    for row in listed:
        assert row[9] == pytest.approx(of_tag[row[1].split(",")[0].split(" and ")[0]], rel=1e-4)
    assert len(sheet._charts) == 2 * len(listed)
    assert book["Front end data"].sheet_state == "hidden"
