"""Text inside XML and back; `xml.sax.saxutils` would load the network libraries with it (7 MB)."""

from __future__ import annotations

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
