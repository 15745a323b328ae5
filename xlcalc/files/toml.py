"""The one reader of TOML files: bounded in size, depth and length of numbers before anything is parsed.

The parser of the standard library is recursive, and takes time and memory with the square of the parts of a
key; a file of 40 kB could take gigabytes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterator
from pathlib import Path
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.files.reading import read_text

LARGEST_BYTES: Final = 4 << 20
DEEPEST: Final = 32
"""Nested brackets, and parts of a key."""
LONGEST_NUMBER: Final = 400
"""Characters of a number; the largest double has 309 digits."""
LARGEST_WHOLE: Final = 1 << 63
"""The range that every TOML reader must know, as its specification (v1.0.0, Integer) says."""

VALID: Final = "a readable TOML file"
_TEXTS: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'|(?P<remark>#[^\n]*)', re.DOTALL
)
_BRACKET: Final = re.compile(r"[\[\]{}]")
_CHAIN: Final = re.compile(r"[\w+-]+(?:[ \t]*\.[ \t]*[\w+-]+)*")
_DIGITS: Final = re.compile(r"[0-9][0-9A-Za-z_]*")


def read_toml(path: Path, logical: Collection[str] = ()) -> dict[str, Any]:
    """Tables of a TOML file.

    Parameters
    ----------
    path : Path
    logical : collection of str
        Names that may be true or false; under any other name that would count as 1 or 0.

    Raises
    ------
    InputError
        No ordinary file, no UTF-8, no TOML, or one that is larger, deeper or has longer numbers than any real
        one.
    """
    text = read_text(path, LARGEST_BYTES, VALID)
    excess = _excess(text)
    if excess:
        raise InputError(str(path), excess, VALID, wrong_kind=True)
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as problem:
        raise InputError(str(path), str(problem), VALID, wrong_kind=True) from None
    for place, value in _whole_numbers(tables, ""):
        if isinstance(value, bool):
            if place not in logical:
                valid = "a number or a text; true and false are neither"
                raise InputError(f"{place} in {path.name}", str(value).lower(), valid)
        elif not -LARGEST_WHOLE <= value < LARGEST_WHOLE:
            valid = "a whole number of up to 18 digits, or a number with a decimal point"
            raise InputError(f"{place} in {path.name}", "of more than 64 bits", valid)
    return tables


def _excess(text: str) -> str:
    """What no real file has, or ""."""
    plain = _TEXTS.sub(lambda found: "" if found["remark"] else "t", text)
    depth = 0
    for sign in _BRACKET.findall(plain):
        depth = max(0, depth + (1 if sign in "[{" else -1))
        if depth > DEEPEST:
            return f"nested deeper than {DEEPEST} brackets"
    if any(chain.count(".") >= DEEPEST for chain in _CHAIN.findall(plain)):
        return f"written with a key of more than {DEEPEST} parts"
    if any(len(digits) > LONGEST_NUMBER for digits in _DIGITS.findall(plain)):
        return f"written with a number of more than {LONGEST_NUMBER} signs"
    return ""


def _whole_numbers(value: object, place: str) -> Iterator[tuple[str, int]]:
    if isinstance(value, dict):
        for name, held in value.items():
            yield from _whole_numbers(held, str(name))
    elif isinstance(value, list):
        for held in value:
            yield from _whole_numbers(held, place)
    elif isinstance(value, int):
        yield place, value
