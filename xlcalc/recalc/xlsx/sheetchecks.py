"""Checks on a sheet that keep any later reader of the workbook from running out of time or memory."""

from __future__ import annotations

import re

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.cellnames import parse_range

MAX_SPREAD_AREA = 2_000_000
"""Cells that merged areas and links of one sheet may cover together; readers touch each of them."""

_ROW = rb"(?:[1-9][0-9]{0,5}|10[0-3][0-9]{4}|104[0-7][0-9]{3}|1048[0-4][0-9]{2}|10485[0-6][0-9]|104857[0-6])"
_COLUMN = rb"(?i:[A-Z]{1,2}|[A-W][A-Z]{2}|X(?:[A-E][A-Z]|F[A-D]))"


def _outside(tag: bytes, valid: bytes) -> re.Pattern[bytes]:
    return re.compile(
        tag + rb"\s(?:[^<>]*?\s)??r\s*=\s*(?:\"(?!" + valid + rb"\")|'(?!" + valid + rb"'))([^\"'<]{0,20})"
    )


_OUTSIDE = (_outside(rb"<c", _COLUMN + _ROW), _outside(rb"<row", _ROW))
_OUTSIDE_PREFIXED = (_outside(rb"<[\w.-]+:c", _COLUMN + _ROW), _outside(rb"<[\w.-]+:row", _ROW))
_PREFIXED = tuple(b":" + name + space for name in (b"c", b"row") for space in (b" ", b"\t", b"\n", b"\r"))
_SPREADING = (b"mergeCell", b"hyperlink")
_SPREAD = re.compile(rb"""<(?:[\w.-]+:)?(?:mergeCell|hyperlink)\s(?:[^<>]*?\s)?ref\s*=\s*["']([^"'<]*)["']""")


def check_references(data: bytes, *, cells: bool = True) -> None:
    """Refuse cells and rows outside a worksheet, and merged areas or links of absurd size.

    Parameters
    ----------
    data : bytes
        The sheet's XML in UTF-8.
    cells : bool
        False for a sheet without prefixes whose cells somebody else checks one by one.

    Raises
    ------
    UnsafePartError
        With the reason in words.
    """
    patterns: tuple[re.Pattern[bytes], ...] = _OUTSIDE if cells else _OUTSIDE[1:]
    if cells and any(mark in data for mark in _PREFIXED):
        patterns = _OUTSIDE + _OUTSIDE_PREFIXED
    for pattern in patterns:
        if outside := pattern.search(data):
            raise UnsafePartError(
                f"the reference {outside[1].decode(errors='replace')!a} lies outside a worksheet"
            )
    first = min((at for name in _SPREADING if (at := data.find(name)) >= 0), default=len(data))
    covered = 0
    for match in _SPREAD.finditer(data, data.rfind(b"<", 0, first) if first < len(data) else first):
        area = parse_range(match[1].decode(errors="replace"))
        if area is None:
            raise UnsafePartError(f"the range {match[1].decode(errors='replace')[:40]!a} is no range")
        covered += area.area if area.area > 1 else 0
        if covered > MAX_SPREAD_AREA:
            raise UnsafePartError(f"merged areas and links cover more than {MAX_SPREAD_AREA} cells")
