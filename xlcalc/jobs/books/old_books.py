"""Workbooks from templates of earlier versions: inputs that stood where no function reads them any more."""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from pathlib import Path
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.files.reading import read_bytes
from xlcalc.recalc.cellnames import parse_range
from xlcalc.recalc.xlsx.archive.container import DEFAULT_LIMITS
from xlcalc.recalc.xlsx.package import WorkbookPackage

MOST_BYTES: Final = 10_000_000
STUDY: Final = "study"
CAPACITORS: Final = "capacitor_mvar"
"""Defined names in those workbooks."""
_UNREADABLE: Final = (
    *(OSError, KeyError, ValueError, RuntimeError, EOFError, OverflowError),
    *(zipfile.BadZipFile, zlib.error, struct.error),
)
_NAME: Final = re.compile(
    rb'<definedName [^>]*name="(%b|%b)"[^>]*>([^<]*)<' % (STUDY.encode(), CAPACITORS.encode())
)


def refuse_old_capacitor(path: Path) -> None:
    """Refuse a drive study whose capacitor stands in the block of the study, outside the range of the site.

    The functions of such a workbook cannot see it, and their verdict would be that of the plant without it.

    Raises
    ------
    InputError
        The cell holds a value; the message says what to do with it. A file that is no workbook passes: who
        reads it refuses it.
    WorkbookFileError
        The file is not a valid workbook.
    """
    found = _places(path)
    study, capacitor = found.get(STUDY), found.get(CAPACITORS)
    if study is None or capacitor is None or "!" not in capacitor:
        return
    sheet, _, cell = capacitor.rpartition("!")
    rows, place = parse_range(study.rpartition("!")[2].replace("$", "")), parse_range(cell.replace("$", ""))
    if rows is None or place is None or not rows.first_row <= place.first_row <= rows.last_row:
        return
    title = sheet.strip("'")
    from xlcalc.recalc.loaded import loaded, reading

    book = loaded(WorkbookPackage.open(path), values=True)
    with reading(path):
        value = book[title][cell.replace("$", "")].value
    if value in (None, "", 0, 0.0):
        return
    where = f"{title}!{cell.replace('$', '')} of {path.name}"
    valid = (
        "blank: this workbook is of an earlier version, whose study held no capacitors; run xlcalc new "
        "drive_study and enter it there under Supply, Capacitor (Mvar)"
    )
    raise InputError(where, value, valid, why="a capacitor that would not be in the study")


def _places(path: Path) -> dict[str, str]:
    try:
        with zipfile.ZipFile(io.BytesIO(read_bytes(path, DEFAULT_LIMITS.file_bytes))) as archive:
            info = archive.getinfo("xl/workbook.xml")
            content = archive.read(info) if info.file_size <= MOST_BYTES else b""
    except _UNREADABLE:
        return {}
    return {name.decode(): area.decode("utf-8", "replace") for name, area in _NAME.findall(content)}
