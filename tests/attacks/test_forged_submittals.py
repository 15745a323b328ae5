# ruff: noqa: E501
"""Single edits of a submittal and of its workbook: each is named by the check, or listed as not promised.

The edits are made in the XML of the parts, with values and stamp kept and the checksum at the end of the file
made anew, as somebody would do who wants them to go unnoticed.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from xlcalc.files.ownership import SEAL_LENGTH, sealed_book
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.workbooks.pages import submittal_check
from xlcalc.workbooks.pages.submittal import write_submittal
from xlcalc.workbooks.pages.submittal_check import Check, check, differences
from xlcalc.workbooks.pages.submittal_digest import BookRecord, read_record
from xlcalc.workbooks.pages.submittal_record import Made, read_cells

Parts = dict[str, bytes]
Edit = Callable[[Parts], None]
COVER, PCC, RECORD, CELLS = (f"xl/worksheets/sheet{number}.xml" for number in (1, 5, 14, 15))
WORKBOOK, STYLES, TYPES = "xl/workbook.xml", "xl/styles.xml", "[Content_Types].xml"
BOOK_SITE, BOOK_PCC, BOOK_ARRAYS = (f"xl/worksheets/sheet{number}.xml" for number in (2, 4, 10))
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PICTURE = (
    '<twoCellAnchor xmlns="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing">'
    "<from><col>2</col><colOff>0</colOff><row>4</row><rowOff>0</rowOff></from>"
    "<to><col>4</col><colOff>0</colOff><row>5</row><rowOff>0</rowOff></to>"
    '<sp><nvSpPr><cNvPr id="9" name="box"/><cNvSpPr txBox="1"/></nvSpPr><spPr/></sp><clientData/>'
    "</twoCellAnchor>"
)


def swap(part: str, old: str, new: str) -> Edit:
    """Replace the first match of a pattern; it must be there."""

    def edit(parts: Parts) -> None:
        text, count = re.subn(old, new, parts[part].decode(), count=1, flags=re.DOTALL)
        assert count == 1, (part, old)
        assert text.encode() != parts[part], (part, old)
        parts[part] = text.encode()

    return edit


def add(part: str, content: bytes, *others: Edit) -> Edit:
    def edit(parts: Parts) -> None:
        parts[part] = content
        for other in others:
            other(parts)

    return edit


def both(*edits: Edit) -> Edit:
    def edit(parts: Parts) -> None:
        for one in edits:
            one(parts)

    return edit


def text_of(cell: str, new: str) -> tuple[str, str]:
    return rf'(<c r="{cell}"[^>]*><is><t)[^>]*>[^<]*<', rf"\1>{new}<"


def number_of(cell: str, new: str) -> tuple[str, str]:
    return rf'(<c r="{cell}"[^>]*>(?:<f>[^<]*</f>)?<v>)[^<]*<', rf"\g<1>{new}<"


def restyled(part: str, cell: str, **change: str) -> Edit:
    """A cell with a format of its own, a copy of the old one but for `change`."""

    def edit(parts: Parts) -> None:
        styles, sheet = parts[STYLES].decode(), parts[part].decode()
        formats = re.search(r"<cellXfs[^>]*>(.*)</cellXfs>", styles, re.DOTALL)[1]
        listed = re.findall(r"<xf [^>]*/>|<xf .*?</xf>", formats, re.DOTALL)
        number = int(re.search(rf'<c r="{cell}" s="(\d+)"', sheet)[1])
        xf = listed[number]
        for name, value in change.items():
            xf = re.sub(rf'{name}="\d+"', f'{name}="{value}"', xf, count=1)
        assert xf != listed[number]
        parts[STYLES] = styles.replace("</cellXfs>", f"{xf}</cellXfs>").encode()
        parts[part] = sheet.replace(
            f'<c r="{cell}" s="{number}"', f'<c r="{cell}" s="{len(listed)}"'
        ).encode()

    return edit


def number_format(code: str) -> Edit:
    return swap(STYLES, "</numFmts>", f'<numFmt numFmtId="199" formatCode="{code}"/></numFmts>')


def font(xml: str) -> Edit:
    """One more font, the tenth."""
    return swap(STYLES, "</fonts>", f"<font>{xml}</font></fonts>")


def fonts(parts: Parts) -> int:
    return len(re.findall(r"<font>", parts[STYLES].decode()))


def white(part: str, cell: str) -> Edit:
    def edit(parts: Parts) -> None:
        number = fonts(parts)
        font('<name val="Arial"/><color rgb="00FFFFFF"/><sz val="9"/>')(parts)
        restyled(part, cell, fontId=str(number))(parts)

    return edit


def ends(part: str, xml: str, before: str) -> Edit:
    return swap(part, f"(<{before})", xml.replace("\\", r"\\") + r"\1")


def relation(part: str, kind: str, target: str, mode: str = "") -> Edit:
    return swap(
        part,
        "</Relationships>",
        f'<Relationship Id="rId77" Type="{OFFICE}/{kind}" Target="{target}"{mode}/></Relationships>',
    )


EXTERNAL = ' TargetMode="External"'
PAGE_EDITS: dict[str, tuple[Edit, str]] = {
    "verdict on the cover": (swap(COVER, *text_of("B14", "FAIL: TDD 16.97 %")), "Submittal!B14"),
    "figure on the cover": (swap(COVER, "6.56 %", "1.23 %"), "Submittal!B14"),
    "remarks on the cover": (swap(COVER, *text_of("B15", "none")), "Submittal!B15"),
    "time of calculation": (swap(COVER, "2[0-9]{3}-[0-9-]+ [0-9:]+ UTC", "2020-01-01 00:00:00 UTC"), "B19"),
    "name of the workbook": (swap(COVER, *text_of("B18", "other.xlsx")), "Submittal!B18"),
    "proof on the cover": (swap(COVER, *text_of("B20", "4,315 results calculated again for these pages: all agree")), "Submittal!B20"),
    "digest of inputs": (swap(RECORD, *text_of("B18", "0" * 64)), "Record!B18"),
    "digest of results": (swap(RECORD, *text_of("B19", "0" * 64)), "Record!B19"),
    "a caution": (swap(COVER, "dangerous voltages", "harmless voltages"), "Submittal!"),
    "contents": (swap(COVER, *text_of("B23", "PCC")), "Submittal!B23"),
    "count on the record": (swap(RECORD, *number_of("B6", "7")), "Record!B6"),
    "what the digests prove": (swap(RECORD, "Not protected", "All is protected"), "Record!"),
    "value on a page": (swap(PCC, *number_of("D14", "1.5")), "PCC!D14"),
    "value in its tenth digit": (swap(PCC, r'(<c r="D14"[^>]*><v>\d\.\d{8})', r"\g<1>1"), "PCC!D14"),
    "verdict on a page": (swap(PCC, *text_of("C5", "FAIL")), "PCC!C5"),
    "reason on a page": (swap(PCC, '(<c r="C6" s="[0-9]+" t=")str"></c>', r'\1str"><v>x</v></c>'), "PCC!C6"),
    "label": (swap(PCC, *text_of("A5", "Limits kept?")), "PCC!A5"),
    "number becomes a text": (
        swap(PCC, r'(<c r="D14" s="\d+") t="n"><v>[^<]*</v>', r'\1 t="inlineStr"><is><t>6.97</t></is>'),
        "PCC!D14",
    ),
    "formula in place of a value": (
        swap(PCC, r'(<c r="D14" s="\d+") t="n">(<v>[^<]*</v>)', r'\1 t="n"><f>1+1</f>\2'),
        "PCC!D14",
    ),
    "number format that is a figure": (
        both(number_format("&quot;5.0&quot;"), restyled(PCC, "D14", numFmtId="199")),
        "number format",
    ),
    "number format of a percentage": (restyled(PCC, "D14", numFmtId="9"), "number format"),
    "all numbers General": (swap(STYLES, r'formatCode="0.00_\)"', 'formatCode="General"'), "number format"),
    "white font": (white(PCC, "C5"), "PCC!C5  font"),
    "white font in part of a text": (
        swap(
            COVER,
            '(<c r="B14"[^>]*><is>)<t>(PASS)([^<]*)</t>',
            r'\1<r><rPr><color rgb="FFFFFFFF"/></rPr><t>\2</t></r><r><t>\3</t></r>',
        ),
        "Submittal!B14",
    ),
    "fill": (restyled(PCC, "C5", fillId="2"), "PCC!C5  fill"),
    "hidden row": (swap(PCC, '<row r="14"', '<row r="14" hidden="1"'), "PCC!14:14"),
    "row of no height": (swap(COVER, '<row r="15" ht="[0-9.]+"', '<row r="15" ht="0"'), "Submittal!15:15"),
    "hidden column": (swap(PCC, '<col width="12.5"', '<col hidden="1" width="12.5"'), "PCC"),
    "hidden sheet": (swap(WORKBOOK, '(name="Notes" sheetId="12" state=)"visible"', r'\1"hidden"'), "Notes"),
    "sheet name": (swap(WORKBOOK, 'name="Notes" sheetId', 'name="Remarks" sheetId'), "Notes"),
    "order of the sheets": (
        swap(WORKBOOK, "(<sheet [^>]*rId2.?/>)(<sheet [^>]*rId3.?/>)", r"\2\1"),
        "order of the sheets",
    ),
    "conditional format gone": (
        swap(PCC, "<conditionalFormatting.*?</conditionalFormatting>", ""),
        "conditional format",
    ),
    "conditional format recoloured": (swap(PCC, 'dxfId="1"', 'dxfId="2"'), "conditional format"),
    "colour behind it": (
        swap(STYLES, r"(<dxfs.*?</dxf>.*?<color rgb=\")[0-9A-F]{8}", r"\g<1>00FFFFFF"),
        "conditional",
    ),
    "merged cells": (swap(PCC, '<mergeCell ref="C5:D5"/>', ""), "merged cells"),
    "print area": (swap(WORKBOOK, r"'PCC'!\$A\$1:\$H\$96", "'PCC'!$A$15:$H$96"), "Print_Area"),
    "header": (swap(PCC, "verify by measurement", "verified by measurement"), "header and footer"),
    "version in the footer": (swap(PCC, "xlcalc [0-9.]+, 2", "xlcalc 9.9, 2"), "header and footer"),
    "cells of a chart": (swap("xl/charts/chart2.xml", r"\$C\$47:\$C\$95", r"$D$47:$D$95"), "chart2.xml"),
    "points kept in a chart": (
        swap(
            "xl/charts/chart2.xml",
            r"(\$C\$47:\$C\$95</f>)",
            r'\1<numCache><ptCount val="1"/><pt idx="0"><v>0.1</v></pt></numCache>',
        ),
        "chart2.xml",
    ),
    "title of a chart": (swap("xl/charts/chart2.xml", "against its limits", "below its limits"), "chart2.xml"),
    "text box laid over": (swap("xl/drawings/drawing2.xml", "(</[^<]*wsDr>)", PICTURE + r"\1"), "drawing2.xml"),
    "picture": (add("xl/media/image1.png", b"\x89PNG"), "image1.png"),
    "background picture": (
        both(
            ends(PCC, f'<picture xmlns:r="{OFFICE}" r:id="rId77"/>', "drawing"),
            relation("xl/worksheets/_rels/sheet5.xml.rels", "image", "../media/image1.png"),
            add("xl/media/image1.png", b"\x89PNG"),
        ),
        "background picture",
    ),
    "comment": (
        both(
            add("xl/comments1.xml", b'<comments xmlns="urn:x"><authors/><commentList/></comments>'),
            relation("xl/worksheets/_rels/sheet5.xml.rels", "comments", "../comments1.xml"),
        ),
        "comments1.xml",
    ),
    "data validation": (
        ends(PCC, '<dataValidations count="1"><dataValidation sqref="D14"/></dataValidations>', "printOptions"),
        "PCC!D14  data validation",
    ),
    "link": (ends(PCC, '<hyperlinks><hyperlink ref="C5" location="A1"/></hyperlinks>', "printOptions"), "PCC!C5"),
    "external link": (
        both(
            relation("xl/_rels/workbook.xml.rels", "externalLink", "externalLinks/externalLink1.xml"),
            add("xl/externalLinks/externalLink1.xml", b"<externalLink/>"),
        ),
        "externalLink1.xml",
    ),
    "external relation": (
        relation("xl/worksheets/_rels/sheet5.xml.rels", "hyperlink", "https://example.org/", EXTERNAL),
        "sheet5.xml.rels",
    ),
    "macros": (
        both(
            add("xl/vbaProject.bin", b"\0" * 64),
            relation("xl/_rels/workbook.xml.rels", "vbaProject", "vbaProject.bin"),
        ),
        "vbaProject.bin",
    ),
    "custom view": (
        ends(WORKBOOK, '<customWorkbookViews><customWorkbookView name="short"/></customWorkbookViews>', "calcPr"),
        "custom views",
    ),
    "protection": (swap(PCC, "<sheetProtection[^>]*/>", ""), "protection"),
    "iteration": (swap(WORKBOOK, "<calcPr ", '<calcPr iterate="1" '), "settings of the calculation"),
    "colours of the theme": (swap("xl/theme/theme1.xml", 'lastClr="000000"', 'lastClr="FFFFFF"'), "theme1.xml"),
    "author": (swap("docProps/core.xml", "xlcalc", "somebody"), "core.xml"),
    "name added": (swap(WORKBOOK, "</definedNames>", '<definedName name="x">PCC!$A$1</definedName></definedNames>'),
                   "name x"),
    "name of a sheet that hides another": (
        swap(
            WORKBOOK,
            "</definedNames>",
            '<definedName name="pcc_tdd" localSheetId="4">PCC!$E$14</definedName></definedNames>',
        ),
        "PCC  name pcc_tdd",
    ),
    "input in the record": (swap(CELLS, r'(\["input", "Site", "B15", )"[^"]*"', r'\1"77"'), "Site!B15"),
    "result in the record": (swap(CELLS, r'(\["result", "PCC", "D14", )"[^"]*"', r'\1"7"'), "PCC!D14  result"),
    "line gone from the record": (swap(CELLS, '<row r="9">.*?</row>', ""), "in the submittal"),
    "line added to the record": (
        swap(
            CELLS,
            "</sheetData>",
            '<row r="99999"><c r="A99999" t="inlineStr"><is><t>&apos;["input", "Site", "Z9", "1"]</t></is></c></row>'
            "</sheetData>",
        ),
        "Site!Z9",
    ),
    "remark beside the record": (
        swap(CELLS, '(<row r="9">.*?)</row>', r'\1<c r="E9" t="inlineStr"><is><t>x</t></is></c></row>'),
        "record_cells!E9",
    ),
    "paper in the record": (swap(CELLS, '"a4"', '"letter"'), "page"),
    "name in the record": (swap(CELLS, '"site.xlsx"', '"other.xlsx"'), "Submittal!B18"),
    "row under another number": (swap(PCC, '<row r="14"', '<row r="13"'), "PCC!D14  extension"),
    "row without a number": (swap(PCC, '<row r="14"', "<row"), "PCC!D14  extension"),
    "row of another vocabulary": (swap(PCC, "<row r=\"14\"", "<row xmlns=\"urn:x\" r=\"14\""), "PCC  rows"),
    "reading of a text": (swap(COVER, "<is><t>PASS", '<is><rPh sb="0" eb="1"><t>x</t></rPh><t>PASS'), "Submittal!B14"),
    "format behind a number of the standard": (
        swap(STYLES, "</numFmts>", '<numFmt numFmtId="0" formatCode="&quot;x&quot;"/></numFmts>'),
        "number format",
    ),
    "sheets that change places in the package": (
        both(*(swap("xl/_rels/workbook.xml.rels", *pair) for pair in (
            ("sheet5.xml", "sheetX.xml"), ("sheet6.xml", "sheet5.xml"), ("sheetX.xml", "sheet6.xml")))),
        "PCC",
    ),
    "record shown": (swap(WORKBOOK, '"veryHidden"', '"visible"'), "record_cells"),
}  # fmt: skip

BOOK_EDITS: dict[str, tuple[Edit, str]] = {
    "name of a sheet that hides another": (
        swap(
            WORKBOOK,
            "</definedNames>",
            '<definedName name="site" localSheetId="3">Site!$A$1:$B$9</definedName></definedNames>',
        ),
        "name site of PCC",
    ),
    "relative name": (swap(WORKBOOK, r">Site!\$B\$15<", ">Site!$B15<"), "name frequency_hz"),
    "input": (swap(BOOK_SITE, *number_of("B15", "77")), "Site!B15  input"),
    "formula": (swap(BOOK_PCC, "<f>E14-D14</f>", "<f>E14-D14*0.9</f>"), "PCC!F14  formula"),
    "result": (swap(BOOK_PCC, *number_of("D15", "0.25")), "PCC!D15  result"),
    "result by one part in ten to the ninth": (
        swap(BOOK_PCC, r'(<c r="D14"[^>]*>.*?<v>\d\.\d{8})', r"\g<1>1"),
        "PCC!D14  result",
    ),
    "number format": (
        both(number_format("&quot;5.0&quot;"), restyled(BOOK_PCC, "D16", numFmtId="199")),
        "PCC!16:16  formats",
    ),
    "white font": (white(BOOK_PCC, "D17"), "PCC!17:17  formats"),
    "hidden row": (swap(BOOK_PCC, '<row r="18"', '<row hidden="1" r="18"'), "PCC!18:18  formats"),
    "hidden column": (swap(BOOK_PCC, '<col width="12.5"', '<col hidden="1" width="12.5"'), "PCC, columns 1 to 1"),
    "sheet hidden": (swap(WORKBOOK, '(name="Checks" sheetId="9" state=)"hidden"', r'\1"veryHidden"'), "Checks"),
    "order of the sheets": (
        swap(WORKBOOK, "(<sheet [^>]*rId6.?/>)(<sheet [^>]*rId7.?/>)", r"\2\1"),
        "order of the sheets",
    ),
    "conditional format": (
        swap(BOOK_PCC, '<conditionalFormatting sqref="H23".*?</conditionalFormatting>', ""),
        "PCC!23:23  formats",
    ),
    "data validation": (swap(BOOK_SITE, '<dataValidation sqref="B57".*?</dataValidation>', ""), "Site!57:57"),
    "iteration": (swap(WORKBOOK, "<calcPr ", '<calcPr iterate="1" '), "settings of the calculation"),
    "chart": (swap("xl/charts/chart2.xml", r"\$C\$47:\$C\$95", r"$D$47:$D$95"), "chart2.xml"),
    "merged cells": (swap(BOOK_PCC, '<mergeCell ref="C5:D5"/>', ""), "PCC, merged cells"),
    "constant on a sheet that is not printed": (
        swap(BOOK_ARRAYS, "</sheetData>", '<row r="99999"><c r="A99999"><v>1</v></c></row></sheetData>'),
        "Arrays!A99999  input",
    ),
    "a cell that stands there twice": (
        swap(BOOK_ARRAYS, '<row r="5"([^>]*)>', r'<row r="5"\1><c r="A5"><v>1</v></c>'),
        "Arrays!5:5  formats",
    ),
    "table": (swap("xl/tables/table1.xml", 'ref="A10', 'ref="A11'), "table1.xml"),
}  # fmt: skip


@pytest.fixture(scope="module")
def files(recalculated, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    folder = tmp_path_factory.mktemp("forged")
    book, pages = recalculated("demo").copy(folder / "site.xlsx"), folder / "pages.xlsx"
    write_submittal(book, pages, proof=False)
    return book, pages


@pytest.fixture(scope="module")
def parts(files: tuple[Path, Path]) -> dict[Path, Parts]:
    found = {}
    for path in files:
        with zipfile.ZipFile(path) as archive:
            found[path] = {name: archive.read(name) for name in archive.namelist()}
    return found


@pytest.fixture(autouse=True, scope="module")
def computed_once() -> Iterator[None]:
    """The workbook is computed once for all edits of the pages, and an equal record is read once."""
    records: dict[bytes, tuple[Made, BookRecord]] = {}

    def read(pages: WorkbookPackage) -> tuple[Made, BookRecord]:
        key = pages.container.read(CELLS)
        return records.get(key) or records.setdefault(key, read_cells(pages))

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(submittal_check, "make_again", cache(submittal_check.make_again))
        patch.setattr(submittal_check, "read_cells", read)
        yield


def forged(original: Path, parts: Parts, edit: Edit, target: Path) -> Path:
    changed = dict(parts)
    edit(changed)
    with zipfile.ZipFile(original) as archive:
        stamp = archive.comment.decode()
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name, content in changed.items():
            archive.writestr(name, content)
    stamp = stamp[:-SEAL_LENGTH] if " result " in stamp else stamp
    target.write_bytes(b"".join(sealed_book(buffer.getvalue(), stamp)))
    return target


def texts(found: Check) -> list[str]:
    return [difference.text for difference in (*found.differences, *found.pages)]


def test_what_was_not_edited_is_as_it_was(files, parts, tmp_path):
    """The test itself: packed anew, both files are what they were."""
    book, pages = files
    found = check(book, str(forged(pages, parts[pages], lambda _: None, tmp_path / "pages.xlsx")))
    assert found.unaltered
    assert texts(found) == []


@pytest.mark.parametrize("name", PAGE_EDITS)
def test_an_edit_of_the_pages_is_named(files, parts, tmp_path, name):
    book, pages = files
    edit, named = PAGE_EDITS[name]
    found = check(book, str(forged(pages, parts[pages], edit, tmp_path / "pages.xlsx")))
    assert not found.unaltered
    assert any(named in text for text in texts(found)), texts(found)[:9]


def test_edits_of_the_workbook_are_named(files, parts, tmp_path):
    """All at once, for the workbook is read anew each time; every one has a line of its own."""
    book, _ = files
    then = read_record(book)
    together = forged(
        book, parts[book], both(*(edit for edit, _ in BOOK_EDITS.values())), tmp_path / "b.xlsx"
    )
    listed = [difference.text for difference in differences(then, read_record(together))]
    for name, (_, named) in BOOK_EDITS.items():
        assert any(named in text for text in listed), (name, listed)


def test_a_workbook_with_another_format_no_longer_gives_the_pages(files, parts, tmp_path):
    book, pages = files
    found = check(forged(book, parts[book], BOOK_EDITS["number format"][0], tmp_path / "b.xlsx"), str(pages))
    assert (found.inputs_same, found.results_same, found.rest_same) == (True, True, False)
    assert any("page PCC!D16  number format" in text for text in texts(found))


def test_the_stamp_of_the_calculation_is_compared(files, parts, tmp_path):
    book, pages = files
    with zipfile.ZipFile(forged(book, parts[book], lambda _: None, tmp_path / "b.xlsx"), "a") as archive:
        archive.comment = b"xlcalc 9.9.9 2020-01-01T00:00:00Z"
    found = check(tmp_path / "b.xlsx", str(pages))
    assert any("Submittal!B19" in text for text in texts(found))
    with zipfile.ZipFile(forged(book, parts[book], lambda _: None, tmp_path / "none.xlsx"), "a") as archive:
        archive.comment = b""
    found = check(tmp_path / "none.xlsx", str(pages))
    assert not found.unaltered
    assert "no stamp" in found.not_made


def test_a_file_packed_anew_with_its_old_checksum_is_named(files, tmp_path):
    book, pages = files
    copy = tmp_path / "pages.xlsx"
    content = bytearray(pages.read_bytes())
    content[10] ^= 1  # the time of day of the first member, which nothing else looks at
    copy.write_bytes(content)
    assert any("checksum" in text for text in texts(check(book, str(copy))))
