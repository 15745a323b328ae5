"""Texts that a spreadsheet program would run as a formula: escaped on the way out, restored on the way in.

The list of first characters is that of the OWASP page on CSV injection; the apostrophe is the mark that
spreadsheet programs themselves use for a text.
"""

from __future__ import annotations

import re
from typing import Final

WIDE: Final = tuple(
    "\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b"  # full-width and small
    "\u207c\u208c\u207a\u208a\u2a75\u2a76\ufb29"  # raised, lowered and doubled
)
"""All that Unicode's compatibility form (NFKC) begins with = + - or @: some programs take them for these."""
_NOT_STORABLE: Final = re.compile("[\\x00-\\x08\\x0b\\x0c\\x0e-\\x1f\\ud800-\\udfff\\ufffe\\uffff]")
STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", *WIDE)


def storable(text: str) -> str:
    """The text with a mark in place of each character that no workbook can hold.

    These are the control characters but for tab and ends of lines, and halves of characters, which stand for
    bytes of a file name that are no text (XML 1.0, section 2.2).

    Examples
    --------
    >>> storable("a\\x01b\\udcffc\\td") == "a\\ufffdb\\ufffdc\\td"
    True
    """
    return _NOT_STORABLE.sub("\ufffd", text)


def escape_formula(text: str) -> str:
    """The text with an apostrophe before it where it could be taken for a formula.

    Examples
    --------
    >>> escape_formula("=1+1"), escape_formula("P-101"), escape_formula("'=x")
    ("'=1+1", 'P-101', "''=x")
    """
    return "'" + text if text.lstrip("'").startswith(STARTS) else text


def unescape_formula(text: str) -> str:
    """The text as it was before `escape_formula`.

    Examples
    --------
    >>> unescape_formula("'=1+1"), unescape_formula("'quoted'"), unescape_formula("''=x")
    ('=1+1', "'quoted'", "'=x")
    """
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(STARTS) else text
