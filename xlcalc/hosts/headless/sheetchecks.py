"""Checks on a sheet that keep any later reader of the workbook from running out of time or memory."""

from __future__ import annotations

import re

from xlcalc.hosts.headless.cellnames import parse_range
from xlcalc.hosts.headless.errors import UnsafePartError

MAX_SPREAD_AREA = 2_000_000
"""Cells that merged areas and links of one sheet may cover together; readers touch each of them."""

_ROW = rb"(?:[1-9][0-9]{0,5}|10[0-3][0-9]{4}|104[0-7][0-9]{3}|1048[0-4][0-9]{2}|10485[0-6][0-9]|104857[0-6])"
_COLUMN = rb"(?i:[A-Z]{1,2}|[A-W][A-Z]{2}|X(?:[A-E][A-Z]|F[A-D]))"
_OUTSIDE = re.compile(
    rb"<(?:[\w.-]+:)?(?:c\s(?:[^<>]*?\s)?r\s*=\s*([\"'])(?!" + _COLUMN + _ROW + rb"\1)([^\"'<]{0,20})"
    rb"|row\s(?:[^<>]*?\s)?r\s*=\s*([\"'])(?!" + _ROW + rb"\3)([^\"'<]{0,20}))"
)
_SPREAD = re.compile(rb"""<(?:[\w.-]+:)?(?:mergeCell|hyperlink)\s(?:[^<>]*?\s)?ref\s*=\s*["']([^"'<]*)["']""")


def check_references(data: bytes) -> None:
    """Refuse cells and rows outside a worksheet, and merged areas or links of absurd size.

    Raises
    ------
    UnsafePartError
        With the reason in words.
    """
    outside = _OUTSIDE.search(data)
    if outside:
        shown = ascii((outside[2] or outside[4] or b"").decode(errors="replace"))
        raise UnsafePartError(f"the reference {shown} lies outside a worksheet")
    covered = 0
    for match in _SPREAD.finditer(data):
        area = parse_range(match[1].decode(errors="replace"))
        if area is None:
            raise UnsafePartError(f"the range {match[1].decode(errors='replace')[:40]!a} is no range")
        covered += area.area if area.area > 1 else 0
        if covered > MAX_SPREAD_AREA:
            raise UnsafePartError(f"merged areas and links cover more than {MAX_SPREAD_AREA} cells")
