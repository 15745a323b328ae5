"""Links to our add-in for Excel, which Excel writes into formulas with the path on one PC: taken out."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import partial

from xlcalc.recalc.xlsx.archive.container import Container
from xlcalc.recalc.xlsx.archive.xmlparts import parse_small, to_utf8
from xlcalc.recalc.xlsx.sheets import CONTENT_TYPES_PART, WorkbookPart, relationships_part
from xlcalc.recalc.xlsx.writing.edits import Changes

ADD_IN = "xlcalc.xlam"
NOTE = (
    "formulas named the add-in of our functions with its path on one PC; they now name the functions alone, "
    "so that every PC with the add-in finds its own"
)

_FORMULAS = re.compile(
    rb"(<(?:[\w.-]+:)?(?:f|formula|formula1|formula2|definedName|calculatedColumnFormula|totalsRowFormula)"
    rb"(?:\s[^<>]*)?(?<!/)>)([^<]+)(?=</)"
)
_TEXT = rb'"(?:[^"]|"")*"|&quot;.*?&quot;'
_PATH = re.compile(rb"(?:'|&apos;)[^'&]*?[\\/]?xlcalc\.xlam(?:'|&apos;)!", re.IGNORECASE)
_TARGET = re.compile(rb"""(\sTarget\s*=\s*["'])[^"']*[\\/](?=[^"'\\/]*["'])""")
_ADD_INS = re.compile(rb"""([^"'\\/]*)\.xlam?["']""", re.IGNORECASE)
_WITHOUT_FORMULAS = ("sharedstrings.xml", "styles.xml")


@dataclass(frozen=True)
class _Link:
    """An external link to an add-in: its number in formulas, relationship, part, part with the path, and
    whether the file has the name of ours."""

    number: int
    identity: str
    part: str
    path_part: str
    ours: bool


def plain_links(
    container: Container,
    workbook: WorkbookPart,
    functions: Mapping[str, object],
    changes: Changes,
    *,
    named: bool,
) -> None:
    """Have calls of our functions written without a link, and the link taken out where nothing else needs it.

    A link that formulas still name keeps its number and loses its path. `named` says that formulas name the
    file of the add-in itself.
    """
    links, count = _links(container, workbook)
    if not links and not named:
        return
    call = _call(links, functions)
    used, ours = set[int](), {link.number for link in links if link.ours}
    changed = False
    for part in _parts(container):
        data = to_utf8(container.read(part))[0]
        plain = _plain(data, call=call)
        used |= _numbers(plain)
        if plain != data:
            changed = True
            ours |= {link.number for link in links if data.count(b"[%d]!" % link.number)} - _numbers(plain)
            changes.change(part, partial(_plain, call=call))
    for link in reversed(links):
        if link.number not in ours:
            continue
        if link.number == count and link.number not in used:
            count -= 1
            _take_out(container, workbook, link, changes)
        elif (link.ours or link.number not in used) and _without_path(
            data := container.read(link.path_part)
        ) != data:
            changes.change(link.path_part, _without_path)
        else:
            continue
        changed = True
    if changed:
        changes.notes.append(NOTE)


def _links(container: Container, workbook: WorkbookPart) -> tuple[list[_Link], int]:
    """The links to add-ins, and how many external links there are at all."""
    root = parse_small(to_utf8(container.read(workbook.part))[0])
    targets = {item.id: item.target for item in workbook.relationships if item.kind == "externalLink"}
    found, number = [], 0
    for element in root.iter("{*}externalReference"):
        number += 1
        identity = next((value for name, value in element.items() if str(name).endswith("}id")), "")
        part = container.find(targets.get(str(identity), ""))
        path_part = container.find(relationships_part(part)) if part else None
        file = _ADD_INS.search(container.read(path_part)) if path_part else None
        if part and path_part and file:
            ours = file[1].lower() == ADD_IN.removesuffix(".xlam").encode()
            found.append(_Link(number, str(identity), part, path_part, ours))
    return found, number


def _parts(container: Container) -> Iterator[str]:
    """Parts that may hold formulas."""
    for member in container.members:
        name = member.filename.casefold()
        if name.endswith(".xml") and "externallinks/" not in name and not name.endswith(_WITHOUT_FORMULAS):
            yield member.filename


def _call(found: list[_Link], functions: Mapping[str, object]) -> re.Pattern[bytes]:
    """A link before one of our functions; a text in quotes is matched too, so that it is passed over."""
    links = [rb"\[%d\]!" % link.number for link in found] + [rb"(?:%b)" % _PATH.pattern, rb"xlcalc\.xlam!"]
    names = "|".join(map(re.escape, functions)).encode()
    return re.compile(rb"(%b)|(?:%b)(?=(?:%b)\s*\()" % (_TEXT, b"|".join(links), names), re.IGNORECASE)


def _plain(data: bytes, *, call: re.Pattern[bytes]) -> bytes:
    """A part whose formulas call our functions without a link."""
    return _FORMULAS.sub(lambda found: found[1] + call.sub(lambda match: match[1] or b"", found[2]), data)


def _numbers(data: bytes) -> set[int]:
    """Numbers of the links that are named anywhere."""
    return {int(number) for number in re.findall(rb"\[(\d{1,4})\]", data)}


def _without_path(relationships: bytes) -> bytes:
    """The relationships of a link that leads to a file of that name, wherever it is."""
    return _TARGET.sub(rb"\1", relationships)


def _take_out(container: Container, workbook: WorkbookPart, link: _Link, changes: Changes) -> None:
    types = container.find(CONTENT_TYPES_PART) or CONTENT_TYPES_PART
    changes.take_out(link.part, types, workbook.rels_part, link.identity)
    changes.removed.add(link.path_part)
    changes.change(workbook.part, partial(_without_reference, identity=link.identity.encode()))


def _without_reference(workbook: bytes, *, identity: bytes) -> bytes:
    """The workbook part without one external link; the list goes with its last entry."""
    entry = rb"<(?:[\w.-]+:)?externalReference\s[^<>]*?:id\s*=\s*[\"']%b[\"'][^<>]*?/>" % re.escape(identity)
    left = re.sub(entry, b"", workbook)
    return re.sub(rb"<((?:[\w.-]+:)?externalReferences)(?:\s[^<>]*)?>\s*</\1>", b"", left)
