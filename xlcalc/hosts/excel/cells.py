"""What happens between an Excel cell and a worksheet function, both ways.

The rule for errors: Python hands an error over as text that starts with the error value and a space,
``#NUM! HD_THD: ...``, because nothing else survives the way to VBA. The VBA module of xlcalc, through which
every call goes (`xlcalc.hosts.excel.vba`), turns such text into an error value before it reaches the cell,
and whatever else goes wrong becomes #VALUE!. A cell therefore never shows text in place of a number, which
SUM would pass over.
"""

from __future__ import annotations

from datetime import date, datetime

from xlcalc.schema.values import CellError, ErrorCode, Scalar, Value

FIRST_DAY = datetime(1899, 12, 30)
SECONDS_PER_DAY = 86400.0

Tagged = float | str | bool


def value_from_excel(raw: object) -> Value:
    """Argument as the registry takes it, from what xlwings gives: rows of cells, or None if left out."""
    if not isinstance(raw, list):
        return _scalar(raw)
    rows = [[_scalar(cell) for cell in row] for row in raw]
    return rows[0][0] if len(rows) == 1 and len(rows[0]) == 1 else rows


def value_to_excel(value: Value) -> Tagged | list[list[Tagged]]:
    """Result as xlwings takes it; an error becomes text that starts with its error value."""
    if isinstance(value, list):
        return [[_tagged(cell) for cell in row] for row in value]
    return _tagged(value)


def error_of(text: str) -> CellError | None:
    """The error that a tagged text stands for, None for any other text.

    Examples
    --------
    >>> error_of("#NUM! HD_THD: no fundamental").code.value, error_of("#1 pump")
    ('#NUM!', None)
    """
    code, _, reason = text.partition(" ")
    return CellError(ErrorCode(code), reason) if code in set(ErrorCode) else None


def _scalar(raw: object) -> Scalar:
    if raw is None or raw == "":
        return None
    if isinstance(raw, str):
        return error_of(raw) if raw in set(ErrorCode) else raw
    if isinstance(raw, bool):
        return raw
    if isinstance(raw, date):
        moment = raw if isinstance(raw, datetime) else datetime(raw.year, raw.month, raw.day)
        return (moment.replace(tzinfo=None) - FIRST_DAY).total_seconds() / SECONDS_PER_DAY
    return float(raw)  # type: ignore[arg-type]


def _tagged(cell: Scalar) -> Tagged:
    if isinstance(cell, CellError):
        return f"{cell.code.value} {cell.reason}".strip()
    return "" if cell is None else str(cell) if isinstance(cell, str) else cell
