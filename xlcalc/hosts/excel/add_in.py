"""The add-in for Excel: the functions in every workbook, plain .xlsx included, without macros in it.

It is the file that xlwings ships for own add-ins, with its configuration filled in. VBA code cannot be put
into it without Excel, so the module with the functions is imported once by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from lxml import etree

from xlcalc import __version__
from xlcalc.hosts.excel.macro_book import configuration_sheet, shipped, write_members

ADD_IN_FILE = "xlcalc.xlam"
ADD_IN_SHEET = "myaddin.conf"
"""Configuration sheet by the name that the VBA code in the file looks for."""

_SOURCE = "quickstart_addin.xlam"
_WORKBOOK, _SHEET, _PROPERTIES = "xl/workbook.xml", "xl/worksheets/sheet1.xml", "docProps/core.xml"
_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_CHOICE = "{http://schemas.openxmlformats.org/markup-compatibility/2006}AlternateContent"
_ABOUT = (
    '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n<cp:coreProperties xmlns:cp="http://schemas.'
    'openxmlformats.org/package/2006/metadata/core-properties" xmlns:dc="http://purl.org/dc/elements/1.1/">'
    f"<dc:title>xlcalc</dc:title><dc:description>Worksheet functions of xlcalc {__version__}</dc:description>"
    "</cp:coreProperties>"
)


def write_add_in(target: Path, configuration: Mapping[str, str]) -> None:
    """Write the add-in file, its configuration active.

    Raises
    ------
    InputError
        xlwings is not installed.
    """
    members = shipped(_SOURCE)
    members[_WORKBOOK] = _workbook(members[_WORKBOOK])
    members[_SHEET] = configuration_sheet(configuration)
    members[_PROPERTIES] = _ABOUT.encode()
    write_members(target, members)


def _workbook(data: bytes) -> bytes:
    """The sheet under its active name, without the path on the machine where the file was made."""
    book = etree.fromstring(data)
    for path in book.findall(_CHOICE):
        book.remove(path)
    (sheet,) = book.iter(f"{_MAIN}sheet")
    sheet.set("name", ADD_IN_SHEET)
    return bytes(etree.tostring(book, xml_declaration=True, encoding="UTF-8", standalone=True))
