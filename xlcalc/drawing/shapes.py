"""A drawing as native shapes of a spreadsheet (ECMA-376 part 1, DrawingML), put into a finished workbook."""

from __future__ import annotations

import io
import zipfile
from typing import Final

from lxml import etree

from xlcalc.drawing.marks import Drawing, Form, Stroke

EMU: Final = 12700
"""Per point."""
SHEET_DRAWING: Final = "http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"
MAIN: Final = "http://schemas.openxmlformats.org/drawingml/2006/main"
RELATIONS: Final = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE_RELATIONS: Final = "http://schemas.openxmlformats.org/package/2006/relationships"
SHEET: Final = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
TYPES: Final = "http://schemas.openxmlformats.org/package/2006/content-types"
CONTENT: Final = "application/vnd.openxmlformats-officedocument.drawing+xml"
PART: Final = "xl/drawings/singleline.xml"
STAMP: Final = (1980, 1, 1, 0, 0, 0)
GEOMETRY: Final = {
    Form.LINE: "line",
    Form.CIRCLE: "ellipse",
    Form.BOX: "rect",
    Form.TEXT: "rect",
    Form.ARROW: "flowChartMerge",
}
TEXT_SIZE: Final = 800
LINE_POINTS: Final = 1.0
STRONG_POINTS: Final = 2.5


def with_drawing(book: bytes, sheet_part: str, drawing: Drawing, top: float) -> bytes:
    """A workbook with the drawing on one of its sheets, which has none yet.

    Parameters
    ----------
    book : bytes
        The package.
    sheet_part : str
        Name of the part of the sheet, such as ``xl/worksheets/sheet2.xml``.
    drawing : Drawing
    top : float
        Points from the upper edge of the sheet.
    """
    folder, _, name = sheet_part.rpartition("/")
    result = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(book)) as source,
        zipfile.ZipFile(result, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for info in source.infolist():
            content = source.read(info.filename)
            if info.filename == sheet_part:
                content = _with_reference(content)
            elif info.filename == "[Content_Types].xml":
                content = _with_type(content)
            target.writestr(info, content)
        for part, content in (
            (f"{folder}/_rels/{name}.rels", _relation()),
            (PART, _part(drawing, top)),
        ):
            member = zipfile.ZipInfo(part, STAMP)
            member.compress_type = zipfile.ZIP_DEFLATED
            target.writestr(member, content)
    return result.getvalue()


def _with_reference(sheet: bytes) -> bytes:
    root = etree.fromstring(sheet)
    element = etree.SubElement(root, f"{{{SHEET}}}drawing", nsmap={"r": RELATIONS})
    element.set(f"{{{RELATIONS}}}id", "rId1")
    return _bytes(root)


def _with_type(types: bytes) -> bytes:
    root = etree.fromstring(types)
    etree.SubElement(root, f"{{{TYPES}}}Override", PartName=f"/{PART}", ContentType=CONTENT)
    return _bytes(root)


def _relation() -> bytes:
    root = etree.Element(f"{{{PACKAGE_RELATIONS}}}Relationships")
    etree.SubElement(
        root,
        f"{{{PACKAGE_RELATIONS}}}Relationship",
        Id="rId1",
        Type=f"{RELATIONS}/drawing",
        Target=f"../{PART.removeprefix('xl/')}",
    )
    return _bytes(root)


def _part(drawing: Drawing, top: float) -> bytes:
    root = etree.Element(f"{{{SHEET_DRAWING}}}wsDr", nsmap={"xdr": SHEET_DRAWING, "a": MAIN})
    for number, mark in enumerate(drawing.marks, start=2):
        _shape(root, mark, number, top)
    return _bytes(root)


def _shape(root: etree._Element, mark: Stroke, number: int, top: float) -> None:
    place = {"x": _emu(mark.x), "y": _emu(mark.y + top)}
    extent = {"cx": _emu(mark.width), "cy": _emu(mark.height)}
    anchor = _sub(root, "absoluteAnchor")
    _sub(anchor, "pos", **place)
    _sub(anchor, "ext", **extent)
    shape = _sub(anchor, "sp", macro="", textlink="")
    named = _sub(shape, "nvSpPr")
    _sub(named, "cNvPr", id=str(number), name=f"{mark.form.value} {number}")
    _sub(named, "cNvSpPr")
    look = _sub(shape, "spPr")
    frame = _main(look, "xfrm")
    _main(frame, "off", **place)
    _main(frame, "ext", **extent)
    _main(_main(look, "prstGeom", prst=GEOMETRY[mark.form]), "avLst")
    if mark.form in (Form.BOX, Form.CIRCLE) and mark.text:
        _main(_main(look, "solidFill"), "srgbClr", val="FFFFFF")
    else:
        _main(look, "noFill")
    points = STRONG_POINTS if mark.strong and mark.form is Form.LINE else LINE_POINTS
    line = _main(look, "ln", w=_emu(points))
    if mark.form is Form.TEXT:
        _main(line, "noFill")
    else:
        _main(_main(line, "solidFill"), "srgbClr", val=mark.colour)
    if mark.text:
        _words(shape, mark)
    _sub(anchor, "clientData")


def _words(shape: etree._Element, mark: Stroke) -> None:
    body = _sub(shape, "txBody")
    inside = mark.form is not Form.TEXT
    _main(
        body,
        "bodyPr",
        wrap="square",
        lIns="0",
        tIns="0",
        rIns="0",
        bIns="0",
        anchor="ctr" if inside else "t",
    )
    for line in mark.text.split("\n"):
        paragraph = _main(body, "p")
        _main(paragraph, "pPr", algn="ctr" if inside or mark.centred else "l")
        run = _main(paragraph, "r")
        look = _main(run, "rPr", lang="en", sz=str(TEXT_SIZE), b="1" if mark.strong else "0")
        _main(_main(look, "solidFill"), "srgbClr", val=mark.colour)
        _main(look, "latin", typeface="Arial")
        _main(run, "t").text = line


def _emu(points: float) -> str:
    return str(round(points * EMU))


def _sub(parent: etree._Element, kind: str, /, **attributes: str) -> etree._Element:
    return etree.SubElement(parent, f"{{{SHEET_DRAWING}}}{kind}", attrib=dict(attributes))


def _main(parent: etree._Element, kind: str, /, **attributes: str) -> etree._Element:
    return etree.SubElement(parent, f"{{{MAIN}}}{kind}", attrib=dict(attributes))


def _bytes(root: etree._Element) -> bytes:
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
