"""Settings of the calculation with which Excel keeps stored results when it opens a workbook.

Without the functions Excel gives #NAME? for a call as soon as it computes it, and it computes everything at
once where the workbook asks for that or names no calculation engine, or an older one.
"""

from __future__ import annotations

import re

from xlcalc.recalc.xlsx.writing.edits import with_attribute

ENGINE = 191029
"""Number of the engine of Excel 2019 to 365; a workbook of an older one is computed on opening."""

_SETTINGS = re.compile(rb"<(?:[\w.-]+:)?calcPr(?:\s[^<>]*)?>")
_BEFORE = re.compile(
    rb"<(/?)((?:[\w.-]+:)?)(?:sheets|functionGroups|externalReferences|definedNames)(\s[^<>]*)?>"
)
_ATTRIBUTE = re.compile(rb"""\s([\w:.-]+)\s*=\s*["']([^"']*)["']""")
_NEEDLESS = {b"fullCalcOnLoad": True, b"forceFullCalc": True, b"calcCompleted": False}
"""Attributes that ask for a calculation on opening, and the value with which they do."""


def kept_on_opening(workbook: bytes) -> bytes:
    """The workbook part with settings under which Excel computes nothing anew on opening.

    Parameters
    ----------
    workbook : bytes
        In UTF-8. Bytes that ask for no calculation come back as they are.

    References
    ----------
    ECMA-376 part 1, 18.2.2 (calcPr); MS-OI29500 2.1.565: a missing calcId counts as 0.

    Examples
    --------
    >>> kept_on_opening(b'<workbook><sheets></sheets><calcPr calcId="124519" fullCalcOnLoad="1"/></workbook>')
    b'<workbook><sheets></sheets><calcPr calcId="191029"/></workbook>'
    >>> kept_on_opening(b"<workbook><sheets></sheets></workbook>")
    b'<workbook><sheets></sheets><calcPr calcId="191029"/></workbook>'
    """
    found = _SETTINGS.search(workbook)
    if found is None:
        return _with_settings(workbook)
    tag = found[0]
    attributes = dict(_ATTRIBUTE.findall(tag))
    number = attributes.get(b"calcId", b"").strip()
    if not number.isdigit() or int(number) < ENGINE:
        tag = with_attribute(tag, b"calcId", str(ENGINE).encode())
    for name, asking in _NEEDLESS.items():
        if name in attributes and (attributes[name].strip() in (b"1", b"true")) == asking:
            tag = with_attribute(tag, name, None)
    return workbook[: found.start()] + tag + workbook[found.end() :]


def _with_settings(workbook: bytes) -> bytes:
    ends = [tag for tag in _BEFORE.finditer(workbook) if tag[1] or (tag[3] or b"").endswith(b"/")]
    if not ends:
        return workbook
    last = ends[-1]
    element = b'<%bcalcPr calcId="%d"/>' % (last[2], ENGINE)
    return workbook[: last.end()] + element + workbook[last.end() :]
