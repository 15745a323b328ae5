"""The strict variant of the file format, which differs in the names of its namespaces.

ISO/IEC 29500-1 defines the strict variant, 29500-4 the transitional one that spreadsheet programs usually
write. A part is read under transitional names and written back under its own.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

STRICT = b"http://purl.oclc.org/ooxml/"
MARK = STRICT + b"officeDocument/relationships/officeDocument"
"""The type of the relationship by which a package of the strict variant names its main part."""

_NAMES = {
    STRICT + b"spreadsheetml/main": b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    STRICT + b"officeDocument/relationships": (
        b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    ),
}
_DECLARING = re.compile(rb"<[^!?/<>][^<>]*?\sxmlns[^<>]*>")


def transitional(data: bytes) -> bytes:
    """A part with its namespaces under their transitional names.

    Examples
    --------
    >>> transitional(b'<a xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main">x</a>')
    b'<a xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">x</a>'
    """
    return _renamed(data, _NAMES)


def strict(data: bytes) -> bytes:
    """The opposite of `transitional`; types of relationships are named anew as well."""
    for name, other in _NAMES.items():
        data = data.replace(b'Type="' + other + b"/", b'Type="' + name + b"/")
    return _renamed(data, {other: name for name, other in _NAMES.items()})


def _renamed(data: bytes, names: Mapping[bytes, bytes]) -> bytes:
    def renamed(match: re.Match[bytes]) -> bytes:
        tag = match[0]
        for name, other in names.items():
            for sign in (b'"', b"'"):
                tag = tag.replace(sign + name + sign, sign + other + sign)
        return tag

    return _DECLARING.sub(renamed, data)
