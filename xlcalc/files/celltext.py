"""Texts that a spreadsheet program would run as a formula: harmless on the way out, restored on the way in.

The list of first characters is that of the OWASP page on CSV injection; the apostrophe is the mark that
spreadsheet programs themselves use for a text.
"""

from __future__ import annotations

from typing import Final

WIDE: Final = tuple(
    "\uff1d\uff0b\uff0d\uff20\ufe66\ufe62\ufe63\ufe6b"  # full-width and small
    "\u207c\u208c\u207a\u208a\u2a75\u2a76\ufb29"  # raised, lowered and doubled
)
"""All that Unicode's compatibility form (NFKC) begins with = + - or @: some programs take them for these."""
STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", *WIDE)


def harmless(text: str) -> str:
    """The text with an apostrophe before it where it could be taken for a formula.

    Examples
    --------
    >>> harmless("=1+1"), harmless("P-101"), harmless("'=x")
    ("'=1+1", 'P-101', "''=x")
    """
    return "'" + text if text.lstrip("'").startswith(STARTS) else text


def original(text: str) -> str:
    """The text as it was before `harmless`.

    Examples
    --------
    >>> original("'=1+1"), original("'quoted'"), original("''=x")
    ('=1+1', "'quoted'", "'=x")
    """
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(STARTS) else text
