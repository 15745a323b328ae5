"""TEXT, FIXED, DOLLAR, VALUE, HYPERLINK and ADDRESS."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import ROUND_HALF_UP, Decimal

from xlcalc.recalc.cellnames import MAX_COL, MAX_ROW, column_letters
from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.cells import has_wildcards, wildcard
from xlcalc.recalc.evaluation.library.coded import as_text
from xlcalc.recalc.evaluation.library.text.formats import formatted
from xlcalc.recalc.evaluation.library.values import (
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    lifted,
    logical,
    number,
    number_text,
    over_arrays,
    single,
    text_number,
    whole,
)
from xlcalc.recalc.xlsx.cachedvalues import MAX_TEXT
from xlcalc.schema.values import ErrorCode, all_numbers

_OF_TWO_SHAPES = frozenset("\u03a3\u03c3\u03c2\u1e9e\u00df")
"""Sigma, which is written in another way at the end of a word, and the sharp s."""
_DIGITS = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?\Z")


def text_of(value: Raw = None, pattern: Raw = None, date_1904: Raw = False) -> Raw:
    """TEXT."""
    value, pattern = single(value), single(pattern)
    for raw in (value, pattern):
        if is_error(raw):
            raise ErrorShown(raw)
    if not isinstance(pattern, str):
        raise Uncertain("a number format that is not text")
    if isinstance(value, bool):
        if "@" in pattern or pattern.count(";") >= 3:
            raise Uncertain("TEXT of a logical with a format for texts")
        return "TRUE" if value else "FALSE"
    if isinstance(value, str):
        found = text_number(value) if value else None
        value = value if found is None else found
    if pattern == "":
        return "" if not isinstance(value, str) else value
    return formatted(value if isinstance(value, str) else number(value), pattern, date_1904=date_1904 is True)


def fixed(value: Raw = None, decimals: Raw = 2.0, plain: Raw = False) -> Raw:
    """FIXED, with a point and commas."""
    return _rounded_text(value, whole(decimals), "0" if logical(plain) else "#,##0")


def _rounded_text(value: Raw, places: int, pattern: str) -> str:
    """A number with so many places; fewer than none round before the point."""
    if places > 100:
        raise Uncertain("more than 100 decimal places")
    amount = number(single(value))
    if places < 0:
        amount = float(Decimal(repr(amount)).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP))
    return formatted(amount, pattern + ("." + "0" * places if places > 0 else ""))


def dollars(value: Raw = None, decimals: Raw = 2.0) -> Raw:
    """DOLLAR, as where the currency is the dollar; programs write negative amounts in different ways."""
    if number(single(value)) < 0:
        raise Uncertain("DOLLAR of a negative amount, which programs write in different ways")
    return _rounded_text(value, whole(decimals), "$#,##0")


def number_of_text(text: Raw = None, point: Raw = ".", group: Raw = ",") -> Raw:
    """NUMBERVALUE."""
    given = [single(raw) for raw in (text, point, group)]
    for raw in given:
        if is_error(raw):
            raise ErrorShown(raw)
    given[0] = "" if given[0] is None else given[0]
    if not all(isinstance(raw, str) for raw in given) or not (given[1] and given[2]):
        raise Uncertain("NUMBERVALUE of something that is no text")
    mark, other = given[1][0], given[2][0]
    written = "".join(given[0].split())
    if not written:
        return 0.0
    percents = len(written) - len(written.rstrip("%"))
    before, dot, after = written.rstrip("%").partition(mark)
    if "(" in written:
        raise Uncertain(f"{given[0]!r} as a number")
    if other in after or mark == other:
        fail(ErrorCode.VALUE)
    plain = before.replace(other, "") + ("." if dot else "") + after
    if not _DIGITS.match(plain):
        fail(ErrorCode.VALUE)
    return float(plain) / 100.0**percents


def value_of(text: Raw = None) -> Raw:
    """VALUE."""
    raw = single(text)
    if isinstance(raw, bool):
        return fail(ErrorCode.VALUE)
    return number(raw)


def hyperlink(target: Raw = None, shown: Raw = LEFT_OUT) -> Raw:
    """HYPERLINK: what the cell shows."""
    for raw in (target, shown):
        if is_error(raw):
            raise ErrorShown(raw)
    return single(target if shown is LEFT_OUT else shown)


def replaced(text: Raw = None, start: Raw = None, count: Raw = None, new: Raw = None) -> Raw:
    """REPLACE."""
    for raw in (text, start, count, new):
        if is_error(raw):
            raise ErrorShown(raw)
    first, length = whole(start), whole(count)
    if first < 1 or length < 0:
        fail(ErrorCode.VALUE)
    old, other = text or "", new or ""
    return old[: first - 1] + other + old[first - 1 + length :]


def _place(text: Raw, within: Raw, start: Raw, *, exact: bool) -> Raw:
    """Where a text begins in another one, from a place on."""
    for raw in (text, within, start):
        if is_error(raw):
            raise ErrorShown(raw)
    part, whole_text, first = text or "", within or "", whole(start)
    if not 1 <= first <= len(whole_text) + 1:
        fail(ErrorCode.VALUE)
    if not part:
        if first > max(len(whole_text), 1):
            raise Uncertain("an empty text that is sought behind the last character")
        return float(first)
    if exact:
        found = whole_text.find(part, first - 1)
    elif has_wildcards(part):
        match = wildcard(part, whole=False).search(whole_text.lower(), first - 1)
        found = match.start() if match else -1
    else:
        found = whole_text.lower().find(part.lower(), first - 1)
    return float(found + 1) if found >= 0 else fail(ErrorCode.VALUE)


def find(text: Raw, within: Raw, start: Raw = 1.0) -> Raw:
    """FIND."""
    return _place(text, within, start, exact=True)


def search(text: Raw, within: Raw, start: Raw = 1.0) -> Raw:
    """SEARCH, with ? and *."""
    return _place(text, within, start, exact=False)


def exact(first: Raw, second: Raw) -> Raw:
    """EXACT."""
    for raw in (first, second):
        if is_error(raw):
            raise ErrorShown(raw)
    return (first or "") == (second or "")


def counted(raw: Raw = None) -> Raw:
    """A text among what COUNT counts: a number where it reads as one."""
    found = text_number(raw) if isinstance(raw, str) else None
    return raw if found is None else found


def joined(delimiter: Raw, ignoring: Raw, *parts: Raw) -> Raw:
    """TEXTJOIN."""
    between, without_empty = _written(single(delimiter)), logical(ignoring)
    pieces = [_written(cell) for part in parts for cell in cells_of(part)]
    found = between.join(piece for piece in pieces if piece or not without_empty)
    return found if len(found) <= MAX_TEXT else fail(ErrorCode.VALUE)


def _written(raw: Raw) -> str:
    """A value as it is joined to text."""
    if is_error(raw):
        raise ErrorShown(raw)
    if raw is None or isinstance(raw, str):
        return raw or ""
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    found = number_text(float(raw))
    if found is None:
        raise Uncertain(f"how a spreadsheet writes {raw!r} as text is not certain")
    return found


def address(
    row: Raw = None, column: Raw = None, kind: Raw = LEFT_OUT, plain: Raw = LEFT_OUT, sheet: Raw = LEFT_OUT
) -> Raw:
    """ADDRESS."""
    r, c, fixed_parts = whole(row), whole(column), 1 if kind is LEFT_OUT else whole(kind)
    a1 = True if plain is LEFT_OUT else logical(plain)
    inside = 1 <= r <= MAX_ROW and 1 <= c <= MAX_COL
    if not 1 <= fixed_parts <= 4 or (a1 and not inside):
        fail(ErrorCode.VALUE)
    if not inside:
        raise Uncertain("ADDRESS of a row or column that is not there, by numbers")
    row_fixed, column_fixed = fixed_parts in (1, 2), fixed_parts in (1, 3)
    if a1:
        text = ("$" if column_fixed else "") + column_letters(c) + ("$" if row_fixed else "") + str(r)
    else:
        text = (f"R{r}" if row_fixed else f"R[{r}]") + (f"C{c}" if column_fixed else f"C[{c}]")
    name = single(sheet)
    if name is LEFT_OUT:
        return text
    if not isinstance(name, str) or "[" in name:
        raise Uncertain("ADDRESS with a sheet name that is no text, or of another file")
    if not name:
        return "!" + text
    if name.replace("_", "a").isalnum() and not name[0].isdigit() and not _looks_like_cell(name):
        return f"{name}!{text}"
    quoted = name.replace("'", "''")
    return f"'{quoted}'!{text}"


def _looks_like_cell(name: str) -> bool:
    letters = name.rstrip("0123456789")
    return (len(letters) <= 3 and letters != name) or name.upper() in ("R", "C", "RC")


def windows_character(code: Raw = None) -> Raw:
    """CHAR, by the Windows code page 1252."""
    found = whole(code)
    if not 1 <= found <= 255:
        fail(ErrorCode.VALUE)
    try:
        return bytes([found]).decode("cp1252")
    except UnicodeDecodeError:
        raise Uncertain(f"the character number {found}, which is not defined") from None


def windows_code(text: Raw = None) -> Raw:
    """CODE, by the same code page."""
    raw = single(text)
    if is_error(raw):
        raise ErrorShown(raw)
    if not raw:
        fail(ErrorCode.VALUE)
    try:
        return float(raw[0].encode("cp1252")[0])
    except UnicodeEncodeError:
        raise Uncertain(f"the code of the character {raw[0]!r}; UNICODE decides it") from None


def character(code: Raw = None) -> Raw:
    """UNICHAR."""
    found = whole(code)
    if not 1 <= found <= 0x10FFFF or 0xD800 <= found < 0xE000:
        fail(ErrorCode.VALUE)
    if found < 32 or found in (0xFFFE, 0xFFFF):
        raise Uncertain("a character that no cell can show")
    return chr(found)


def code_point(text: Raw = None) -> Raw:
    """UNICODE."""
    raw = single(text)
    if not isinstance(raw, str):
        raise Uncertain("UNICODE of something that is no text")
    return float(ord(raw[0])) if raw else fail(ErrorCode.VALUE)


def upper(text: Raw = None) -> Raw:
    """UPPER."""
    return _in_case(text, str.upper, str.lower)


def lower(text: Raw = None) -> Raw:
    """LOWER."""
    return _in_case(text, str.lower, str.upper)


def trimmed(text: Raw = None) -> Raw:
    """TRIM: plain spaces alone, so that a no-break space stays."""
    return " ".join(filter(None, _shown(text).split(" ")))


def _in_case(text: Raw, wanted: Callable[[str], str], other: Callable[[str], str]) -> Raw:
    """Letter by letter; refused where a letter has no single counterpart, as the German sharp s."""
    shown = _shown(text)
    for letter in set(shown):
        changed = wanted(letter)
        if (changed != letter and (len(changed) > 1 or other(changed) != letter)) or letter in _OF_TWO_SHAPES:
            raise Uncertain(f"the letter {letter!r} in the other case, for which programs differ")
    return "".join(map(wanted, shown))


def _shown(text: Raw) -> str:
    """An argument as the text that a cell shows."""
    raw = as_text(single(text))
    if is_error(raw):
        raise ErrorShown(raw)
    return raw or ""


def as_number(raw: Raw = None, date_1904: Raw = False) -> Raw:
    """An argument that is text, as the number that it is read as; everything else as it is."""
    raw = single(raw)
    if not isinstance(raw, str):
        return raw
    found = text_number(raw)
    if found is None:
        if raw.strip().upper() in ("TRUE", "FALSE"):
            raise Uncertain(f"the text {raw!r} where a number is expected")
        return fail(ErrorCode.VALUE)
    if date_1904 is True and "-" in raw.strip()[1:]:
        raise Uncertain("a date as text in a workbook that counts from 1904")
    return found


def as_numbers(raw: Raw = None, date_1904: Raw = False) -> Raw:
    """The same for every cell of an array."""
    if isinstance(raw, list):
        return raw if all_numbers(raw) else lifted(as_number, (raw, date_1904), (0,))
    return as_number(raw, date_1904)


def as_logical(raw: Raw = None) -> Raw:
    """A condition that is text; everything else as it is."""
    raw = single(raw)
    return logical(raw) if isinstance(raw, str) else raw


FUNCTIONS: dict[str, Callable[..., Raw]] = over_arrays(
    {
        "TEXT": text_of,
        "FIXED": fixed,
        "VALUE": value_of,
        "HYPERLINK": hyperlink,
        "ADDRESS": address,
        "CHAR": windows_character,
        "CODE": windows_code,
        "UNICHAR": character,
        "UNICODE": code_point,
        "DOLLAR": dollars,
        "NUMBERVALUE": number_of_text,
        "REPLACE": replaced,
        "FIND": find,
        "SEARCH": search,
        "EXACT": exact,
        "TRIM": trimmed,
        "UPPER": upper,
        "LOWER": lower,
        "_COUNTED": counted,
        "_LOGICAL": as_logical,
    }
) | {"TEXTJOIN": joined, "_NUMBER": as_numbers}
