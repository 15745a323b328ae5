"""Cells of a plainly written sheet, read with one expression, about three times faster than a tree."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from xlcalc.recalc.xlsx.archive.xmlparts import unescape
from xlcalc.recalc.xlsx.sheetscan import MAIN

_CELL = re.compile(
    r'<c r="([A-Z]{1,3})([1-9][0-9]{0,6})"([^<>]*?)'
    r"(?:/>|>(?:<f(?=[\s/>])([^<>]*?)(?:/>|>([^<]*)</f>))?(?:<v(?=[\s/>])[^<>]*?(?:/>|>([^<]*)</v>))?"
    r"(?:<is><t(?:\s[^<>]*)?>([^<]*)</t></is>)?</c>)"
)
_ANY_CELL = re.compile(r"<c[\s/>]")
_MAIN_ONLY = re.compile(rf"""<worksheet\s[^<>]*xmlns=["']{re.escape(MAIN)}["']""")
_ATTRIBUTE = re.compile(r"""([\w:.-]+)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_CHARACTER = re.compile(r"&#(x[0-9A-Fa-f]+|[0-9]+);")
_ARRAY = re.compile(rb"""<f\s[^<>]*\bt\s*=\s*["'](?:array|dataTable)""")


def looks_plain(data: bytes) -> bool:
    """Whether a sheet may be one of plainly written cells, none of them with an array formula."""
    return (
        data.find(b"<!") < 0
        and data.find(b"<?", 4) < 0
        and data.count(b"xmlns=") == 1
        and _MAIN_ONLY.search(data[:4096].decode(errors="replace")) is not None
        and 0 <= data.find(b"<sheetData") < data.rfind(b"</sheetData>")
        and not ((b"array" in data or b"dataTable" in data) and _ARRAY.search(data))
    )


class PlainCell(NamedTuple):
    """Address, attributes of cell and formula, formula, value and inline text as written, or None."""

    letters: str
    digits: str
    attributes: str
    formula_attributes: str | None
    formula: str | None
    value: str | None
    inline: str | None


def plain_cells(text: str) -> list[PlainCell] | None:
    """Every cell of a sheet's XML; None where it is not plain enough to be sure of all."""
    start, end = text.find("<sheetData"), text.rfind("</sheetData>")
    if "<!" in text or text.find("<?", 4) >= 0 or text.count("xmlns=") != 1 or not _MAIN_ONLY.search(text):
        return None
    if start < 0 or end < 0:
        return None
    cells = [PlainCell(*match.groups()) for match in _CELL.finditer(text, start, end)]
    return cells if len(cells) == sum(1 for _ in _ANY_CELL.finditer(text)) else None


@lru_cache(maxsize=65536)
def attributes(text: str) -> Mapping[str, str]:
    """Attributes of a tag."""
    found = _ATTRIBUTE.finditer(text)
    return {match[1]: plain_text(match[2] if match[2] is not None else match[3]) for match in found}


def plain_text(text: str) -> str:
    """Text of an element with its entities resolved.

    Examples
    --------
    >>> plain_text("1 &lt; 2 &amp;amp; &#65;")
    '1 < 2 &amp; A'
    """
    if "&" not in text:
        return text
    return unescape(_CHARACTER.sub(_character, text))


def _character(match: re.Match[str]) -> str:
    digits = match[1]
    number = int(digits[1:], 16) if digits[0] == "x" else int(digits)
    return "&amp;" if number == 38 else chr(number)
