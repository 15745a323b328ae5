"""TEXTBEFORE, TEXTAFTER and TEXTSPLIT.

Rules as in their function descriptions (support.microsoft.com, from memory).
"""

from __future__ import annotations

import re
from collections.abc import Callable

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    error,
    fail,
    is_error,
    lifted,
    logical,
    number,
    single,
    whole,
)
from xlcalc.schema.values import ErrorCode


def _delimiters(raw: Raw, mode: Raw) -> re.Pattern[str]:
    """A pattern for any of the delimiters, the longest first where they begin alike."""
    marks = []
    for cell in cells_of(raw):
        if is_error(cell):
            raise ErrorShown(cell)
        if not isinstance(cell, str):
            raise Uncertain("a delimiter that is no text")
        if not cell:
            raise Uncertain("an empty delimiter")
        marks.append(cell)
    if any(a != b and a.lower().startswith(b.lower()) for a in marks for b in marks):
        raise Uncertain("delimiters that begin alike")
    folded = 0 if mode in (LEFT_OUT, None) else whole(mode)
    if folded not in (0, 1):
        fail(ErrorCode.VALUE)
    return re.compile("|".join(map(re.escape, marks)), re.IGNORECASE if folded else 0)


def _text(raw: Raw) -> str:
    raw = single(raw)
    if is_error(raw):
        raise ErrorShown(raw)
    if raw is None:
        return ""
    return raw if isinstance(raw, str) else fail(ErrorCode.VALUE)


def _between(
    text: Raw, delimiter: Raw, instance: Raw, mode: Raw, end: Raw, otherwise: Raw, *, before: bool
) -> Raw:
    """What stands before or after the delimiter of that number, counted from the end where negative."""
    written = _text(text)
    wanted = 1 if instance is LEFT_OUT else whole(instance)
    if instance is not LEFT_OUT and number(instance) != wanted:
        raise Uncertain("an instance that is no whole number")
    if wanted == 0 or (abs(wanted) > len(written) and written):
        fail(ErrorCode.VALUE)
    if any(isinstance(cell, str) and len(cell) > len(written) for cell in cells_of(delimiter)):
        raise Uncertain("a delimiter that is longer than the text")
    places = [match.span() for match in _delimiters(delimiter, mode).finditer(written)]
    if end not in (LEFT_OUT, None) and logical(end):
        if wanted < 0:
            raise Uncertain("the end of the text as a delimiter, counted from the end")
        places.append((len(written), len(written)))
    if abs(wanted) > len(places):
        if otherwise is LEFT_OUT:
            return error(ErrorCode.NA)
        return "" if single(otherwise) is None else single(otherwise)
    start, stop = places[wanted - 1 if wanted > 0 else wanted]
    return written[:start] if before else written[stop:]


def _repeated(*, before: bool) -> Callable[..., Raw]:
    def computed(
        text: Raw,
        delimiter: Raw,
        instance: Raw = LEFT_OUT,
        mode: Raw = LEFT_OUT,
        end: Raw = LEFT_OUT,
        otherwise: Raw = LEFT_OUT,
    ) -> Raw:
        def one(*given: Raw) -> Raw:
            return _between(given[0], delimiter, *given[1:], before=before)

        return lifted(one, (text, instance, mode, end, otherwise), range(5))

    return computed


def _pieces(text: str, delimiters: Raw, mode: Raw) -> list[Raw]:
    return [text] if delimiters is LEFT_OUT else list(_delimiters(delimiters, mode).split(text))


def split(
    text: Raw,
    columns: Raw,
    rows: Raw = LEFT_OUT,
    ignoring: Raw = LEFT_OUT,
    mode: Raw = LEFT_OUT,
    pad: Raw = LEFT_OUT,
) -> Raw:
    """TEXTSPLIT: pieces side by side, and one below the other where a delimiter of rows is given."""
    written = _text(text)
    if columns is LEFT_OUT and rows is LEFT_OUT:
        fail(ErrorCode.VALUE)
    if not written:
        raise Uncertain("TEXTSPLIT of an empty text")
    if pad is None:
        raise Uncertain("a blank cell to fill the rows of TEXTSPLIT")
    table = [_pieces(line, columns, mode) for line in _pieces(written, rows, mode)]
    if ignoring not in (LEFT_OUT, None) and logical(ignoring):
        table = [kept for line in table if (kept := [piece for piece in line if piece])]
        if not table:
            raise Uncertain("TEXTSPLIT that leaves nothing")
    width = max(map(len, table))
    filler = error(ErrorCode.NA) if pad is LEFT_OUT else single(pad)
    found = [[*line, *[filler] * (width - len(line))] for line in table]
    return found if len(found) > 1 or width > 1 else found[0][0]


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "TEXTBEFORE": _repeated(before=True),
    "TEXTAFTER": _repeated(before=False),
    "TEXTSPLIT": split,
}
