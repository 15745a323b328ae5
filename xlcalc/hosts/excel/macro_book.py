"""A macro-enabled copy of a workbook: the VBA project of xlwings and its configuration sheet are added.

Every other part of the workbook stays byte for byte as it is.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

from lxml import etree

from xlcalc.errors import InputError

CONFIGURATION_SHEET = "xlwings.conf"
MACRO_TYPE = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
VBA_PART = "xl/vbaProject.bin"

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_VBA_LINK = "http://schemas.microsoft.com/office/2006/relationships/vbaProject"
_WORKBOOK, _WORKBOOK_LINKS, _CONTENT = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"
_ADD_IN_KIND, _BOOK_KIND = b"addin.macroEnabled", b"sheet.macroEnabled"
_SHEET_PART = "xl/worksheets/xlcalc_configuration.xml"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"


def vba_project() -> bytes:
    """The VBA project that xlwings ships with its stand-alone workbook.

    Raises
    ------
    InputError
        xlwings is not installed.
    """
    return shipped("quickstart_standalone.xlsm")[VBA_PART]


def shipped(name: str) -> dict[str, bytes]:
    """Parts of a workbook that xlwings ships.

    Raises
    ------
    InputError
        xlwings is not installed.
    """
    spec = find_spec("xlwings")
    if spec is None or spec.origin is None:
        raise InputError("xlwings", None, "installed in this Python: pip install 'xlwings>=0.37,<0.38'")
    with zipfile.ZipFile(Path(spec.origin).parent / name) as archive:
        return {member: archive.read(member) for member in archive.namelist()}


def write_macro_book(source: Path, target: Path, configuration: Mapping[str, str]) -> None:
    """Copy a workbook and add VBA project and configuration.

    Parameters
    ----------
    source, target : Path
        An .xlsx and the .xlsm to write.
    configuration : mapping of str to str
        Rows of the configuration sheet, name and value.
    """
    with zipfile.ZipFile(source) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    links = etree.fromstring(members[_WORKBOOK_LINKS])
    first_sheet = _first_sheet(members[_WORKBOOK], links)
    members[_CONTENT] = _content_types(members[_CONTENT])
    sheet_link = _link(links, f"{_OFFICE}/worksheet", _SHEET_PART.removeprefix("xl/"))
    _link(links, _VBA_LINK, VBA_PART.removeprefix("xl/"))
    members[_WORKBOOK_LINKS] = _text(links)
    members[_WORKBOOK] = _workbook(members[_WORKBOOK], sheet_link)
    members[first_sheet] = _with_code_name(members[first_sheet], "Sheet1")
    members[_SHEET_PART] = configuration_sheet(configuration)
    members[VBA_PART] = vba_project()
    write_members(target, members)


def write_members(target: Path, members: Mapping[str, bytes]) -> None:
    """Write the parts of a workbook."""
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)


def read_configuration(book: Path, sheet: str = CONFIGURATION_SHEET) -> dict[str, str] | None:
    """Rows of the configuration sheet of a workbook or add-in, None where it has none."""
    import openpyxl

    sheets = openpyxl.load_workbook(_as_workbook(book), read_only=True)
    try:
        if sheet not in sheets.sheetnames:
            return None
        rows = sheets[sheet].iter_rows(max_col=2, values_only=True)
        return {str(name): "" if value is None else str(value) for name, value in rows if name}
    finally:
        sheets.close()


def _as_workbook(book: Path) -> Path | io.BytesIO:
    """The file itself; an add-in, which openpyxl refuses for its kind, as the workbook that it else is."""
    if book.suffix != ".xlam":
        return book
    copy = io.BytesIO()
    with zipfile.ZipFile(book) as archive, zipfile.ZipFile(copy, "w") as changed:
        for name in archive.namelist():
            data = archive.read(name)
            changed.writestr(name, data.replace(_ADD_IN_KIND, _BOOK_KIND) if name == _CONTENT else data)
    return copy


def _first_sheet(workbook: bytes, links: etree._Element) -> str:
    sheet = etree.fromstring(workbook).find(f"{{{_MAIN}}}sheets/{{{_MAIN}}}sheet")
    assert sheet is not None
    wanted = sheet.get(f"{{{_OFFICE}}}id")
    target = next(str(link.get("Target")) for link in links if link.get("Id") == wanted)
    return target.removeprefix("/") if target.startswith("/") else f"xl/{target}"


def _content_types(data: bytes) -> bytes:
    types = etree.fromstring(data)
    for part in types:
        if part.get("PartName") == f"/{_WORKBOOK}":
            part.set("ContentType", MACRO_TYPE)
    for name, kind in ((VBA_PART, "application/vnd.ms-office.vbaProject"), (_SHEET_PART, _SHEET_TYPE)):
        etree.SubElement(types, f"{{{_TYPES}}}Override", PartName=f"/{name}", ContentType=kind)
    return _text(types)


def _link(links: etree._Element, kind: str, target: str) -> str:
    taken = {link.get("Id") for link in links}
    identity = next(f"rId{n}" for n in range(1, len(taken) + 2) if f"rId{n}" not in taken)
    etree.SubElement(links, f"{{{_LINKS}}}Relationship", Id=identity, Type=kind, Target=target)
    return identity


def _workbook(data: bytes, link: str) -> bytes:
    book = etree.fromstring(data)
    properties = book.find(f"{{{_MAIN}}}workbookPr")
    if properties is None:
        properties = etree.Element(f"{{{_MAIN}}}workbookPr")
        book.insert(0, properties)
    properties.set("codeName", "ThisWorkbook")
    sheets = book.find(f"{{{_MAIN}}}sheets")
    assert sheets is not None
    number = 1 + max(int(str(sheet.get("sheetId"))) for sheet in sheets)
    entry = etree.SubElement(sheets, f"{{{_MAIN}}}sheet", name=CONFIGURATION_SHEET, sheetId=str(number))
    entry.set(f"{{{_OFFICE}}}id", link)
    return _text(book)


def _with_code_name(data: bytes, name: str) -> bytes:
    sheet = etree.fromstring(data)
    properties = sheet.find(f"{{{_MAIN}}}sheetPr")
    if properties is None:
        properties = etree.Element(f"{{{_MAIN}}}sheetPr")
        sheet.insert(0, properties)
    properties.set("codeName", name)
    return _text(sheet)


def configuration_sheet(configuration: Mapping[str, str]) -> bytes:
    """Part of a sheet that holds names and values in two columns."""
    sheet = etree.Element(f"{{{_MAIN}}}worksheet", nsmap={None: _MAIN})  # type: ignore[dict-item]
    etree.SubElement(sheet, f"{{{_MAIN}}}sheetPr", codeName="Sheet2")
    cells = etree.SubElement(sheet, f"{{{_MAIN}}}sheetData")
    for number, pair in enumerate(configuration.items(), start=1):
        row = etree.SubElement(cells, f"{{{_MAIN}}}row", r=str(number))
        for letter, value in zip("AB", pair, strict=True):
            cell = etree.SubElement(row, f"{{{_MAIN}}}c", r=f"{letter}{number}", t="inlineStr")
            holder = etree.SubElement(cell, f"{{{_MAIN}}}is")
            etree.SubElement(holder, f"{{{_MAIN}}}t").text = value
    return _text(sheet)


def _text(root: etree._Element) -> bytes:
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True))
