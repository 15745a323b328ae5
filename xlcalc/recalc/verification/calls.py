"""Formulas with the calls of our functions written as the constants that they gave."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from xlcalc.recalc.evaluation.engine import EngineError, Raw, Token, error_from_raw, tokenize
from xlcalc.recalc.evaluation.formula.syntax import MAX_LENGTH
from xlcalc.recalc.xlsx.cachedvalues import encode_number

MAX_TEXT_CONSTANT = 255
_NOT_NEEDED = "NA()"
_NEWER = ("_XLFN._XLWS.", "_XLFN.")


def function_names(text: str) -> frozenset[str] | None:
    """Names of the functions that a formula calls, in capitals; None where it cannot be read."""
    try:
        return frozenset(_name(token) for token in tokenize("=" + text) if _opens(token))
    except EngineError:
        return None


def with_constants(
    text: str, ours: Collection[str], expected: Sequence[str], given: Mapping[int, Raw]
) -> str | None:
    """A formula in which each outermost call of ours is the constant that it gave.

    Parameters
    ----------
    text : str
        Without equals sign.
    ours : collection of str
        Names of our functions in capitals.
    expected : sequence of str
        Names of the calls of ours, in their order.
    given : mapping
        What each call gave, by its number; one that was not needed may be absent.

    Returns
    -------
    str or None
        None where a call cannot be written as a constant.
    """
    try:
        tokens = tokenize("=" + text)
    except EngineError:
        return None
    out: list[str] = []
    found: list[str] = []
    depth, inside = 0, None
    for token in tokens:
        if _opens(token) and _name(token) in ours:
            if inside is None:
                constant = _constant(given[len(found)]) if len(found) in given else _NOT_NEEDED
                if constant is None:
                    return None
                out.append(constant)
                inside = depth
            found.append(_name(token))
        if inside is None:
            out.append(token.text)
        depth += (token.part == "open") - (token.part == "close")
        if inside == depth:
            inside = None
    formula = "".join(out)
    return formula if found == list(expected) and len(formula) <= MAX_LENGTH else None


def _opens(token: Token) -> bool:
    return token.kind == "function" and token.part == "open"


def _name(token: Token) -> str:
    name = token.text[:-1].strip().upper().rpartition("!")[2]
    for mark in _NEWER:
        name = name.removeprefix(mark)
    return name


def _constant(value: Raw) -> str | None:
    """A value as a formula writes it; None where it has no such form."""
    if not isinstance(value, list):
        return _scalar(value)
    rows = [[_scalar(cell) if not isinstance(cell, dict) else None for cell in row] for row in value]
    if any(cell is None for row in rows for cell in row):
        return None
    return "{" + ";".join(",".join(str(cell) for cell in row) for row in rows) + "}"


def _scalar(value: Raw) -> str | None:
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, int | float):
        return encode_number(float(value)).decode()
    if isinstance(value, str):
        return None if len(value) > MAX_TEXT_CONSTANT else '"' + value.replace('"', '""') + '"'
    if isinstance(value, dict):
        error = error_from_raw(value)
        return error.code.value if error is not None else None
    return None
