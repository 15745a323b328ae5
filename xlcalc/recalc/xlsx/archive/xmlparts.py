"""Reading the XML parts of a package without ever expanding an entity or leaving the package."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from xml.parsers import expat

from lxml import etree

from xlcalc.files.errors import UnsafePartError

_DECLARED = re.compile(rb"""\A<\?xml[^>]*?\sencoding\s*=\s*["']([^"']*)["']""")
_BOMS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_PLAIN_ENCODINGS = {b"utf-8", b"utf8", b"us-ascii", b"ascii"}

SAFE = {"resolve_entities": False, "no_network": True, "load_dtd": False, "huge_tree": True}
"""Settings of lxml with which nothing is expanded and nothing fetched."""


def check_well_formed(data: bytes, encoding: str | None = None) -> None:
    """Accept a part only if it is well-formed XML without a document type declaration.

    Parameters
    ----------
    data : bytes
        The part.
    encoding : str, optional
        Its encoding where that is not what the part declares.

    Raises
    ------
    UnsafePartError
        With the reason in words.
    """
    _Check(encoding).take(data, last=True)


def well_formed(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """Pass a part in UTF-8 on in pieces, and raise as `check_well_formed` where it is not well-formed XML."""
    check = _Check(None)
    for piece in pieces:
        check.take(piece, last=False)
        yield piece
    check.take(b"", last=True)


class _Check:
    """A part taken in pieces."""

    def __init__(self, encoding: str | None) -> None:
        self._parser = expat.ParserCreate(encoding)
        self._parser.StartDoctypeDeclHandler = self._refuse_doctype

    @staticmethod
    def _refuse_doctype(*_: object) -> None:
        raise UnsafePartError("it declares a document type or entities, which a workbook never does")

    def take(self, data: bytes, *, last: bool) -> None:
        try:
            self._parser.Parse(data, last)
        except expat.ExpatError as error:
            raise UnsafePartError(f"it is not well-formed XML ({error})") from None
        except (LookupError, ValueError):
            raise UnsafePartError("its text encoding is neither UTF-8 nor UTF-16") from None


def to_utf8(data: bytes) -> tuple[bytes, str | None]:
    """The part as UTF-8 bytes, and the encoding to go back to (None where it is UTF-8 already).

    Raises
    ------
    UnsafePartError
        For an encoding other than UTF-8 and UTF-16, the two that the package format allows.
    """
    encoding = _BOMS.get(data[:2])
    if encoding is not None:
        try:
            return data[2:].decode(encoding).encode(), encoding
        except UnicodeError:
            raise UnsafePartError("its text is not valid UTF-16") from None
    declared = _DECLARED.match(data.removeprefix(b"\xef\xbb\xbf"))
    if b"\0" in data[:4] or (declared and declared[1].lower() not in _PLAIN_ENCODINGS):
        raise UnsafePartError("its text encoding is neither UTF-8 nor UTF-16")
    return data, None


def from_utf8(data: bytes, encoding: str | None) -> bytes:
    """Undo `to_utf8`."""
    if encoding is None:
        return data
    bom = next(mark for mark, name in _BOMS.items() if name == encoding)
    return bom + data.decode().encode(encoding)


def parse_small(data: bytes) -> etree._Element:
    """Tree of a small part (workbook, relationships, content types), parsed with nothing external allowed.

    Parameters
    ----------
    data : bytes
        The part in UTF-8, whatever it declares.

    Raises
    ------
    UnsafePartError
        Where the part is not well-formed or declares entities.
    """
    check_well_formed(data, "utf-8")
    parser = etree.XMLParser(
        encoding="utf-8", resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False
    )
    try:
        return etree.fromstring(data, parser)
    except etree.XMLSyntaxError as error:
        raise UnsafePartError(f"it cannot be read as XML ({error.msg})") from None


def local_name(element: etree._Element) -> str:
    """Tag without its namespace; empty for comments and processing instructions."""
    return element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""


_ENTITIES = (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'"), ("&amp;", "&"))


def escape(text: str) -> str:
    """Text as the inside of an element.

    Examples
    --------
    >>> escape('1 < 2 & "x"')
    '1 &lt; 2 &amp; "x"'
    """
    return text.replace("&", "&amp;").replace(">", "&gt;").replace("<", "&lt;")


def quoted(text: str) -> str:
    """Text as the value of an attribute, quotation marks included.

    Examples
    --------
    >>> quoted('a "b"')
    '"a &quot;b&quot;"'
    """
    inside = escape(text).replace('"', "&quot;")
    for sign in "\n\r\t":
        inside = inside.replace(sign, f"&#{ord(sign)};")
    return f'"{inside}"'


def unescape(text: str) -> str:
    """Text with the five named entities resolved.

    Examples
    --------
    >>> unescape("&lt;&amp;lt;&quot;")
    '<&lt;"'
    """
    for entity, sign in _ENTITIES:
        text = text.replace(entity, sign)
    return text
