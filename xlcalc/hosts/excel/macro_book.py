"""A macro-enabled copy of a workbook: our VBA project and a configuration sheet are added.

Every other part of the workbook stays byte for byte as it is; its sheets get a code name, nothing else.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

from lxml import etree

from xlcalc import __version__
from xlcalc.hosts.excel.project import vba_project
from xlcalc.hosts.excel.vba import CONFIGURATION_SHEET

MACRO_BOOK_TYPE = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"
ADD_IN_TYPE = "application/vnd.ms-excel.addin.macroEnabled.main+xml"
VBA_PART = "xl/vbaProject.bin"

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
_LINKS = "http://schemas.openxmlformats.org/package/2006/relationships"
_OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_VBA_LINK = "http://schemas.microsoft.com/office/2006/relationships/vbaProject"
_VBA_TYPE = "application/vnd.ms-office.vbaProject"
_WORKBOOK, _WORKBOOK_LINKS, _CONTENT = "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml"
_SHEET_PART = "xl/worksheets/xlcalc_configuration.xml"
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"


def macro_book(
    source: Path | io.BytesIO,
    configuration: Mapping[str, str],
    modules: Mapping[str, str],
    *,
    kind: str = MACRO_BOOK_TYPE,
    code: str = "",
) -> bytes:
    """The file of a workbook to which VBA project and configuration are added.

    Parameters
    ----------
    source : Path or BytesIO
        An .xlsx.
    configuration : mapping of str to str
        Rows of the configuration sheet, name and value.
    modules : mapping of str to str
        Texts of the VBA modules by name.
    kind : str
        Content type of the workbook part: `MACRO_BOOK_TYPE` or `ADD_IN_TYPE`.
    code : str
        What the workbook itself runs on its events.
    """
    with zipfile.ZipFile(source) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    links = etree.fromstring(members[_WORKBOOK_LINKS])
    sheet_link = _link(links, f"{_OFFICE}/worksheet", _SHEET_PART.removeprefix("xl/"))
    _link(links, _VBA_LINK, VBA_PART.removeprefix("xl/"))
    members[_CONTENT] = _content_types(members[_CONTENT], kind)
    members[_WORKBOOK_LINKS] = _text(links)
    members[_WORKBOOK] = _workbook(members[_WORKBOOK], sheet_link)
    members[_SHEET_PART] = _configuration_sheet(configuration)
    names = []
    for number, part in enumerate(_sheets(members[_WORKBOOK], links), start=1):
        names.append(f"Sheet{number}")
        members[part] = _with_code_name(members[part], names[-1])
    members[VBA_PART] = vba_project(modules, names, code)
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return target.getvalue()


def read_configuration(book: Path) -> dict[str, str] | None:
    """Rows of the configuration sheet of a workbook or add-in, None where it has none."""
    import openpyxl

    sheets = openpyxl.load_workbook(_as_workbook(book), read_only=True)
    try:
        if CONFIGURATION_SHEET not in sheets.sheetnames:
            return None
        rows = sheets[CONFIGURATION_SHEET].iter_rows(max_col=2, values_only=True)
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
            if name == _CONTENT:
                data = data.replace(ADD_IN_TYPE.encode(), MACRO_BOOK_TYPE.encode())
            changed.writestr(name, data)
    return copy


def _content_types(data: bytes, kind: str) -> bytes:
    types = etree.fromstring(data)
    for part in types:
        if part.get("PartName") == f"/{_WORKBOOK}":
            part.set("ContentType", kind)
    for name, its_type in ((VBA_PART, _VBA_TYPE), (_SHEET_PART, _SHEET_TYPE)):
        etree.SubElement(types, f"{{{_TYPES}}}Override", PartName=f"/{name}", ContentType=its_type)
    return _text(types)


def _link(links: etree._Element, kind: str, target: str) -> str:
    taken = {link.get("Id") for link in links}
    identity = next(f"rId{n}" for n in range(1, len(taken) + 2) if f"rId{n}" not in taken)
    etree.SubElement(links, f"{{{_LINKS}}}Relationship", Id=identity, Type=kind, Target=target)
    return identity


def _sheets(workbook: bytes, links: etree._Element) -> list[str]:
    """The parts of the worksheets, in the order of the workbook."""
    parts = {}
    for link in links:
        target = str(link.get("Target"))
        if str(link.get("Type")).endswith("/worksheet"):
            parts[link.get("Id")] = target.removeprefix("/") if target.startswith("/") else f"xl/{target}"
    found = (sheet.get(f"{{{_OFFICE}}}id") for sheet in etree.fromstring(workbook).iter(f"{{{_MAIN}}}sheet"))
    return [parts[identity] for identity in found if identity in parts]


def _workbook(data: bytes, link: str) -> bytes:
    book = etree.fromstring(data)
    properties = book.find(f"{{{_MAIN}}}workbookPr")
    if properties is None:
        properties = etree.Element(f"{{{_MAIN}}}workbookPr")
        book.insert(0, properties)
    properties.set("codeName", "ThisWorkbook")
    sheets = book.find(f"{{{_MAIN}}}sheets")
    assert sheets is not None
    number = 1 + max((int(str(sheet.get("sheetId"))) for sheet in sheets), default=0)
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


def _configuration_sheet(configuration: Mapping[str, str]) -> bytes:
    """Part of a sheet that holds names and values in two columns."""
    sheet = etree.Element(f"{{{_MAIN}}}worksheet", nsmap={None: _MAIN})  # type: ignore[dict-item]
    cells = etree.SubElement(sheet, f"{{{_MAIN}}}sheetData")
    for number, pair in enumerate(configuration.items(), start=1):
        row = etree.SubElement(cells, f"{{{_MAIN}}}row", r=str(number))
        for letter, value in zip("AB", pair, strict=True):
            if value:
                cell = etree.SubElement(row, f"{{{_MAIN}}}c", r=f"{letter}{number}", t="inlineStr")
                holder = etree.SubElement(cell, f"{{{_MAIN}}}is")
                etree.SubElement(holder, f"{{{_MAIN}}}t").text = value
    return _text(sheet)


def _text(root: etree._Element) -> bytes:
    return bytes(etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True))


def add_in(configuration: Mapping[str, str], modules: Mapping[str, str]) -> bytes:
    """The file of the add-in: a workbook of the kind that Excel keeps hidden."""
    import openpyxl
    from openpyxl.workbook.properties import CalcProperties

    book = openpyxl.Workbook()
    book.properties.creator, book.properties.title = "xlcalc", "xlcalc"
    book.properties.description = f"Worksheet functions of xlcalc {__version__}"
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    source = io.BytesIO()
    book.save(source)
    return macro_book(source, configuration, modules, kind=ADD_IN_TYPE)
