"""A sheet that lists formulas without a result and why, added on request by the smallest edits."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from xml.parsers import expat

from xlcalc.files.errors import UnsafePartError
from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import (
    check_well_formed,
    escape,
    from_utf8,
    parse_small,
    quoted,
    to_utf8,
)
from xlcalc.recalc.xlsx.cachedvalues import MAX_TEXT
from xlcalc.recalc.xlsx.sheets import CONTENT_TYPES_PART, RELATIONSHIPS, WorkbookPart
from xlcalc.recalc.xlsx.sheetscan import MAIN
from xlcalc.recalc.xlsx.writing.edits import Edit, apply_edits

REASONS_PART = "xl/worksheets/xlcalc_reasons.xml"
HEADINGS = ("Sheet", "Cell", "Formula", "Error", "Reason", "Typed in")
_WIDTHS = (24, 10, 48, 12, 90, 24)
_MAX_ROWS = 1_048_575
_MAX_LINKS = 5000
_MAX_SHEET_NAME = 31
_FORBIDDEN_IN_NAME = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_FORBIDDEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"


@dataclass(frozen=True)
class ReasonRow:
    """One line of the sheet."""

    sheet: str
    cell: str
    formula: str
    error: str
    reason: str
    typed: str = ""


@dataclass(frozen=True)
class ReasonsParts:
    """Members to replace and to add."""

    replaced: Mapping[str, bytes]
    added: Mapping[str, bytes]


def reasons_parts(
    container: Container, workbook: WorkbookPart, rows: Sequence[ReasonRow], name: str
) -> ReasonsParts:
    """Members that give the workbook a sheet of reasons, or refresh the one it has from an earlier run.

    Parameters
    ----------
    container, workbook
        The package.
    rows : sequence of ReasonRow
    name : str
        Name for a new sheet, made valid and unique.
    """
    content = _sheet(rows)
    for sheet in workbook.sheets:
        if sheet.part.casefold() == REASONS_PART.casefold():
            return ReasonsParts({sheet.part: content}, {})
    if container.find(REASONS_PART) is not None:
        raise container.fail(f"it holds a part {REASONS_PART} that belongs to no sheet")
    types_part = container.find(CONTENT_TYPES_PART) or CONTENT_TYPES_PART
    try:
        replaced = _registered(container, workbook, types_part, name)
    except UnsafePartError as error:
        raise container.fail(f"no sheet can be added: {error}") from None
    return ReasonsParts(replaced, {REASONS_PART: content})


def _registered(container: Container, workbook: WorkbookPart, types_part: str, name: str) -> dict[str, bytes]:
    taken = {relationship.id for relationship in workbook.relationships}
    number = next(n for n in range(1, len(taken) + 2) if f"rIdReasons{n}" not in taken)
    relationship_id = f"rIdReasons{number}"
    unique = _unique_name(name, {sheet.name.casefold() for sheet in workbook.sheets})

    def sheet_element(prefix: str, data: bytes) -> str:
        root = parse_small(data)
        ids = [e.get("sheetId", "") for e in root.iterfind(f"{{{MAIN}}}sheets/{{{MAIN}}}sheet")]
        if not all(text.isascii() and text.isdigit() and len(text) < 9 for text in ids):
            raise UnsafePartError("the number of a sheet cannot be read")
        used = [int(text) for text in ids]
        bound = next((p for p, uri in root.nsmap.items() if p and uri == RELATIONSHIPS), None)
        declared = "" if bound else f' xmlns:r="{RELATIONSHIPS}"'
        return (
            f"<{prefix}sheet{declared} name={quoted(unique)} "
            f'sheetId="{max(used, default=0) + 1}" {bound or "r"}:id="{relationship_id}"/>'
        )

    def relationship_element(prefix: str, _: bytes) -> str:
        return (
            f'<{prefix}Relationship Id="{relationship_id}" Type="{RELATIONSHIPS}/worksheet" '
            f'Target="/{REASONS_PART}"/>'
        )

    def type_element(prefix: str, _: bytes) -> str:
        return f'<{prefix}Override PartName="/{REASONS_PART}" ContentType="{_SHEET_TYPE}"/>'

    plan = (
        (workbook.part, "sheets", sheet_element),
        (workbook.rels_part, "Relationships", relationship_element),
        (types_part, "Types", type_element),
    )
    return {part: _with_child(container.read(part), parent, make) for part, parent, make in plan}


def _with_child(original: bytes, parent: str, make: Callable[[str, bytes], str]) -> bytes:
    """The part with one more child at the end of its first element of a name."""
    data, encoding = to_utf8(original)
    place, prefix = _end_tag(data, parent)
    content = from_utf8(apply_edits(data, [Edit(place, place, make(prefix, data).encode())]), encoding)
    check_well_formed(content)
    return content


def _end_tag(data: bytes, name: str) -> tuple[int, str]:
    """Where the end tag of an element begins, and its prefix with the colon."""
    found: list[tuple[int, str]] = []
    parser = expat.ParserCreate("utf-8")

    def end(tag: str) -> None:
        prefix, colon, local = tag.rpartition(":")
        if local == name and not found:
            found.append((parser.CurrentByteIndex, prefix + colon))

    parser.EndElementHandler = end
    parser.Parse(data, True)
    if not found or data[found[0][0] : found[0][0] + 2] != b"</":
        raise UnsafePartError(f"its list {name} is missing or empty")
    return found[0]


def _unique_name(name: str, taken: set[str]) -> str:
    base = _FORBIDDEN_IN_NAME.sub(" ", name).strip().strip("'")[:_MAX_SHEET_NAME] or "Recalculation"
    candidate, number = base, 2
    while candidate.casefold() in taken:
        suffix = f" ({number})"
        candidate = base[: _MAX_SHEET_NAME - len(suffix)] + suffix
        number += 1
    return candidate


def _sheet(rows: Sequence[ReasonRow]) -> bytes:
    shown = rows[:_MAX_ROWS]
    lines = [_line(1, HEADINGS)]
    lines += [
        _line(number, (row.sheet, row.cell, row.formula, row.error, row.reason, row.typed))
        for number, row in enumerate(shown, start=2)
    ]
    columns = "".join(
        f'<col min="{n}" max="{n}" width="{width}" customWidth="1"/>'
        for n, width in enumerate(_WIDTHS, start=1)
    )
    links = "".join(
        f'<hyperlink ref="B{number}" location={quoted(_clean(_address(row)))}/>'
        for number, row in enumerate(shown[:_MAX_LINKS], start=2)
        if row.sheet and row.cell
    )
    return "".join(
        (
            '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n',
            f'<worksheet xmlns="{MAIN}"><dimension ref="A1:F{len(shown) + 1}"/>',
            '<sheetViews><sheetView workbookViewId="0"><pane ySplit="1" topLeftCell="A2" '
            'activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>',
            f"<cols>{columns}</cols><sheetData>",
            *lines,
            "</sheetData>",
            f"<hyperlinks>{links}</hyperlinks>" if links else "",
            "</worksheet>",
        )
    ).encode()


def _line(number: int, texts: Iterable[str]) -> str:
    cells = "".join(
        f'<c r="{letter}{number}" t="inlineStr"><is><t xml:space="preserve">{_text(text)}</t></is></c>'
        for letter, text in zip("ABCDEF", texts, strict=True)
    )
    return f'<row r="{number}">{cells}</row>'


def _text(text: str) -> str:
    cut = text if len(text) <= MAX_TEXT // 2 else text[: MAX_TEXT // 2 - 1] + "…"
    return escape(_LOOKS_ESCAPED.sub("_x005F_", _clean(cut))).replace("\r", "_x000D_")


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("�", text)


def _address(row: ReasonRow) -> str:
    sheet = row.sheet.replace("'", "''")
    return f"'{sheet}'!{row.cell}"
