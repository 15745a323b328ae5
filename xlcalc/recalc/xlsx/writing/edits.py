"""Changes to the bytes of a sheet, or to whole parts, collected first and made in one go."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import lru_cache, partial
from typing import NamedTuple

from xlcalc.recalc.xlsx.cachedvalues import Encoded
from xlcalc.recalc.xlsx.sheetscan import CellSpan

_ATTRIBUTE = re.compile(rb"""\s+([\w:.-]+)\s*=\s*("[^"]*"|'[^']*')""")


class Edit(NamedTuple):
    """Replace the bytes from ``start`` to ``end``; equal offsets insert."""

    start: int
    end: int
    new: bytes


def apply_edits(data: bytes, edits: Iterable[Edit]) -> bytes:
    """Make all changes; insertions at one place keep their order and come before what is replaced there.

    Examples
    --------
    >>> apply_edits(b"<a>1</a>", [Edit(3, 4, b"22")])
    b'<a>22</a>'
    """
    pieces: list[bytes] = []
    position = 0
    for edit in sorted(edits, key=lambda item: (item.start, item.end)):
        if edit.start < position:
            raise ValueError("edits overlap")
        pieces.append(data[position : edit.start])
        pieces.append(edit.new)
        position = edit.end
    pieces.append(data[position:])
    return b"".join(pieces)


@lru_cache(maxsize=4096)
def with_attribute(tag: bytes, name: bytes, value: bytes | None) -> bytes:
    """A start tag (or the attributes of one) with one attribute set, or removed for None.

    Examples
    --------
    >>> with_attribute(b'<c r="A1" t="s">', b"t", None)
    b'<c r="A1">'
    >>> with_attribute(b'<c r="A1"/>', b"t", b"str")
    b'<c r="A1" t="str"/>'
    """
    for match in _ATTRIBUTE.finditer(tag):
        if match[1] == name:
            if value is None:
                return tag[: match.start()] + tag[match.end() :]
            return tag[: match.start(2)] + b'"' + value + b'"' + tag[match.end(2) :]
    if value is None:
        return tag
    end = len(tag) - (2 if tag.endswith(b"/>") else 1 if tag.endswith(b">") else 0)
    bare = tag[:end].rstrip()
    return bare + b" " + name + b'="' + value + b'"' + tag[len(bare) :].lstrip()


def value_element(prefix: bytes, encoded: Encoded | None) -> bytes:
    """The ``<v>`` element of a value; nothing for no value."""
    if encoded is None:
        return b""
    space = b' xml:space="preserve"' if encoded.keep_space else b""
    return b"<%bv%b>%b</%bv>" % (prefix, space, encoded.text, prefix)


def cell_type(encoded: Encoded | None, old: str) -> bytes | None:
    """Value of the attribute ``t``; None to leave it out."""
    if encoded is None:
        return None
    if not encoded.type:
        return b"n" if old == "n" else None
    return encoded.type


def rewritten_cell(
    data: bytes,
    cell: CellSpan,
    prefix: bytes,
    encoded: Encoded | None,
    new_ref: bytes | None = None,
    *,
    left: bool = False,
) -> bytes:
    """A cell with another value (and, for a dynamic array, another range); all else as it was.

    A cell that an array has `left` loses the empty formula that marks it as a part of the array.
    """
    tag = with_attribute(
        data[cell.start : cell.tag_end], b"t", cell_type(encoded, cell.attributes.get("t", ""))
    )
    value = value_element(prefix, encoded)
    if cell.tag_end == cell.end:
        if not value:
            return tag
        return tag[:-2].rstrip() + b">" + value + b"</" + prefix + b"c>"
    place = cell.formula[1] if cell.formula else cell.tag_end
    changes = [Edit(*cell.value, value) if cell.value else Edit(place, place, value)]
    if cell.inline:
        changes.append(Edit(*cell.inline, b""))
    if cell.formula and left and cell.marks_member:
        changes.append(Edit(*cell.formula, b""))
    if new_ref is not None and cell.formula:
        start = cell.formula[0]
        end = start + _tag_length(data[start : cell.formula[1]])
        changes.append(Edit(start, end, with_attribute(data[start:end], b"ref", new_ref)))
    offset = cell.tag_end
    body = data[offset : cell.end]
    return tag + apply_edits(body, [Edit(e.start - offset, e.end - offset, e.new) for e in changes])


def _tag_length(element: bytes) -> int:
    position = 0
    for match in _ATTRIBUTE.finditer(element):
        if b">" in element[position : match.start()]:
            break
        position = match.end()
    return element.index(b">", position) + 1


Change = Callable[[bytes], bytes]
"""New bytes of a part from its present ones, both in UTF-8."""


@dataclass
class Changes:
    """Parts to change after the values are written, parts to take out, and remarks for the report.

    Parameters
    ----------
    parts : dict of part name to list of Change
        Made in this order.
    removed : set of str
        Names of parts to take out.
    notes : list of str
        One sentence for each kind of change.
    """

    parts: dict[str, list[Change]] = field(default_factory=dict)
    removed: set[str] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)

    def change(self, part: str, change: Change) -> None:
        """Add a change of a part."""
        self.parts.setdefault(part, []).append(change)

    def take_out(self, part: str, types_part: str, rels_part: str, identity: str) -> None:
        """Take out a part with its content type and its relationship.

        Parameters
        ----------
        part, types_part, rels_part : str
            Its name, and those of the content types and of the relationships that list it.
        identity : str
            Of its relationship.
        """
        self.removed.add(part)
        self.change(types_part, partial(_without_element, name=b"PartName", value=f"/{part}".encode()))
        self.change(rels_part, partial(_without_element, name=b"Id", value=identity.encode()))


def _without_element(data: bytes, *, name: bytes, value: bytes) -> bytes:
    """A list without the entry that has a value in an attribute."""
    pattern = rb"<(?:[\w.-]+:)?(?:Override|Relationship)\s(?:[^<>]*\s)?%b\s*=\s*[\"']%b[\"'][^<>]*>"
    return re.sub(pattern % (name, re.escape(value)), b"", data, flags=re.IGNORECASE)
