"""Ordinary functions that can make a long text out of a short one, with the limit that a cell sets."""

from __future__ import annotations

from xlcalc.recalc.evaluation.engine import Raw, error_to_raw
from xlcalc.recalc.xlsx.cachedvalues import MAX_TEXT
from xlcalc.schema.values import CellError, ErrorCode

_REFUSED: Raw = {"type": "Error", "kind": "NImpl"}
_VALUE = error_to_raw(CellError(ErrorCode.VALUE))
_LEFT_OUT = object()


def repeated(text: Raw = None, times: Raw = None) -> Raw:
    """REPT; a text that no cell could hold is refused before it is made."""
    if (error := _first_error(text, times)) is not None:
        return error
    shown, count = _shown(text), _whole(times)
    if shown is None or count is None:
        return _REFUSED if shown is None else _VALUE
    if count < 0:
        return _VALUE
    return _REFUSED if len(shown) * count > MAX_TEXT else shown * count


def substituted(text: Raw = None, old: Raw = None, new: Raw = None, instance: Raw = _LEFT_OUT) -> Raw:
    """SUBSTITUTE; a text that no cell could hold is refused before it is made.

    Which one is meant by an instance is not certain where the old text overlaps itself: refused.
    """
    if (error := _first_error(text, old, new, instance)) is not None:
        return error
    whole, part, other = _shown(text), _shown(old), _shown(new)
    if whole is None or part is None or other is None:
        return _REFUSED
    number = None if instance is _LEFT_OUT else _whole(instance)
    if instance is not _LEFT_OUT and (number is None or number < 1):
        return _VALUE
    if not part:
        return whole
    found = whole.count(part)
    changed = found if number is None else 1
    if len(whole) + changed * (len(other) - len(part)) > MAX_TEXT:
        return _REFUSED
    if number is None:
        return whole.replace(part, other)
    if any(part.startswith(part[shift:]) for shift in range(1, len(part))):
        return _REFUSED
    if number > found:
        return whole
    pieces = whole.split(part, number)
    return part.join(pieces[:-1]) + other + pieces[-1]


def _first_error(*given: Raw) -> Raw | None:
    return next((item for item in given if isinstance(item, dict)), None)


def _shown(raw: Raw) -> str | None:
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    return raw if isinstance(raw, str) else None


def _whole(raw: Raw) -> int | None:
    if raw is None:
        return 0
    if isinstance(raw, str):
        try:
            return int(float(raw))
        except (ValueError, OverflowError):
            return None
    return int(raw) if isinstance(raw, bool | int | float) else None
