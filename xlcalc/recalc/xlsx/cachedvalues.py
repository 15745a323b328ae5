"""Cached values of cells: from Python to the bytes of a sheet and back."""

from __future__ import annotations

import math
import re
from typing import NamedTuple

from xlcalc.schema.values import CellError, ErrorCode, Scalar

MAX_TEXT = 32_767
_WHOLE_BELOW = 1e15
_FORBIDDEN = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
_NEEDS_CARE = re.compile("[&<>\r_]|^\\s|\\s$|\n|\t")
_LOOKS_ESCAPED = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")
_ESCAPED = re.compile(r"_x(?![Dd][89A-Fa-f])([0-9A-Fa-f]{4})_")
_SPACED = re.compile("^\\s|\\s$|[\n\t]|  ")
_ERRORS = {code.value: code for code in ErrorCode}


class Encoded(NamedTuple):
    """A value as a sheet stores it: the cell type (empty for numbers) and the ``<v>`` element's inside."""

    type: bytes
    text: bytes
    keep_space: bool = False


def unwritable(value: object) -> str:
    """Why a value cannot be stored in a cell; empty where it can.

    Parameters
    ----------
    value : object
        A number, text, logical or `CellError`; None stands for "no value".

    Examples
    --------
    >>> unwritable(1.5), unwritable(float("nan"))
    ('', 'the number is not finite')
    """
    if value is None or isinstance(value, (bool, CellError)):
        return ""
    if isinstance(value, (int, float)):
        try:
            return "" if math.isfinite(value) else "the number is not finite"
        except OverflowError:
            return "the number is too large for a cell"
    if not isinstance(value, str):
        return f"a cell cannot hold a {type(value).__name__}"
    if len(value.encode("utf-16-le", "surrogatepass")) // 2 > MAX_TEXT:
        return f"the text is longer than {MAX_TEXT} characters"
    if _FORBIDDEN.search(value):
        return "the text holds control characters, which a workbook cannot store"
    return ""


def encode(value: float | int | str | bool | CellError) -> Encoded:
    """Cell type and text of a value that `unwritable` accepts.

    Examples
    --------
    >>> encode(3.0).text, encode(0.1).text, encode(1e15).text, encode(True)[:2]
    (b'3', b'0.1', b'1000000000000000.0', (b'b', b'1'))
    """
    if isinstance(value, bool):
        return Encoded(b"b", b"1" if value else b"0")
    if isinstance(value, (int, float)):
        return Encoded(b"", encode_number(float(value)))
    if isinstance(value, CellError):
        return Encoded(b"e", value.code.value.encode())
    if not _NEEDS_CARE.search(value):
        return Encoded(b"str", value.encode())
    text = _LOOKS_ESCAPED.sub("_x005F_", value).replace("\r", "_x000D_")
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return Encoded(b"str", text.encode(), bool(_SPACED.search(value)))


def encode_number(value: float) -> bytes:
    """Shortest text that reads back as the same number, whole numbers below 1E15 without a point."""
    if value.is_integer() and -_WHOLE_BELOW < value < _WHOLE_BELOW:
        return str(int(value)).encode()
    return float.__repr__(value).encode()


def decode(type_: str, text: str | None) -> Scalar:
    """Value of a cell's type and text as read; None where there is none or it has no plain form.

    A shared string, a date in ISO form and an error without an `ErrorCode` have no plain form here.

    Examples
    --------
    >>> decode("n", "2"), decode("b", "1"), decode("str", "a_x000D_b"), decode("e", "#N/A").code.value
    (2.0, True, 'a\\rb', '#N/A')
    """
    if text is None:
        return None
    match type_:
        case "" | "n":
            try:
                number = float(text)
            except ValueError:
                return None
            return number if math.isfinite(number) else None
        case "str" | "inlineStr":
            return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)
        case "b":
            return text.strip() in ("1", "true")
        case "e":
            code = _ERRORS.get(text.strip())
            return None if code is None else CellError(code)
        case _:
            return None


def same_value(old: Scalar, new: Scalar) -> bool:
    """Whether a new value is the old one, in kind and in every bit that a cell keeps."""
    if isinstance(new, CellError):
        return isinstance(old, CellError) and old.code == new.code
    if isinstance(new, bool) or isinstance(old, bool):
        return old is new
    if isinstance(new, (int, float)):
        return isinstance(old, float) and old == new
    return type(old) is type(new) and old == new
