"""Fonts, fills and number formats of the templates: one named style per role of a cell."""

from __future__ import annotations

from typing import Final, Literal

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, NamedStyle, PatternFill, Protection, Side

FONT: Final = "Arial"
INK: Final = "1F2A33"
SLATE: Final = "2F4858"
MIST: Final = "E9EEF1"
RULE: Final = "B8C4CC"
SAND: Final = "FCF4DE"
SAND_EDGE: Final = "C8A951"
MUTED: Final = "5C6B75"

GOOD: Final = ("DDEBE0", "1F5A33")
CLOSE: Final = ("FBE7C3", "7A4A00")
BAD: Final = ("F4D3CC", "8A1C12")
UNKNOWN: Final = ("E3DDEE", "4A2E7A")

TITLE = "hd title"
SUBTITLE = "hd subtitle"
SECTION = "hd section"
HEADING = "hd heading"
LABEL = "hd label"
INPUT = "hd input"
RESULT = "hd result"
HELP = "hd help"
BODY = "hd body"
VERDICT = "hd verdict"
INPUT_TEXT = "hd input text"
RESULT_TEXT = "hd result text"
HEADING_LEFT = "hd heading left"
TOTAL = "hd total"
ARRAY = "hd array"
STRONG = "hd strong"
FIGURE = "hd figure"


def _fill(colour: str) -> PatternFill:
    return PatternFill("solid", start_color=colour, end_color=colour)


def _box(colour: str) -> Border:
    side = Side(style="thin", color=colour)
    return Border(left=side, right=side, top=side, bottom=side)


def _style(
    name: str,
    *,
    size: float = 9,
    bold: bool = False,
    colour: str = INK,
    fill: str | None = None,
    border: Border | None = None,
    horizontal: Literal["left", "center", "right"] = "left",
    wrap: bool = False,
    indent: int = 1,
    unlocked: bool = False,
    number_format: str = "General",
) -> NamedStyle:
    style = NamedStyle(
        name=name,
        font=Font(name=FONT, size=size, bold=bold, color=colour),
        alignment=Alignment(
            horizontal=horizontal,
            vertical="center",
            wrap_text=wrap,
            indent=0 if horizontal == "center" else indent,
        ),
        number_format=number_format,
        protection=Protection(locked=not unlocked),
    )
    if fill:
        style.fill = _fill(fill)
    if border:
        style.border = border
    return style


def register(book: Workbook) -> None:
    """Add the named styles of the templates to a workbook."""
    for style in (
        _style(TITLE, size=16, bold=True, colour=SLATE, indent=0),
        _style(SUBTITLE, colour=MUTED, indent=0),
        _style(SECTION, size=10, bold=True, colour="FFFFFF", fill=SLATE),
        _style(HEADING, bold=True, fill=MIST, border=_box(RULE), horizontal="center", wrap=True),
        _style(HEADING_LEFT, bold=True, fill=MIST, border=_box(RULE), wrap=True),
        _style(TOTAL, bold=True, fill=MIST, border=_box(RULE), horizontal="right", indent=0),
        _style(STRONG, bold=True, indent=0),
        _style(FIGURE, border=_box(RULE), horizontal="right", indent=0),
        _style(ARRAY, size=8, horizontal="right", number_format="0.0000"),
        _style(LABEL, border=_box(RULE)),
        _style(INPUT, fill=SAND, border=_box(SAND_EDGE), horizontal="right", unlocked=True),
        _style(RESULT, border=_box(RULE), horizontal="right", number_format="0.00"),
        _style(INPUT_TEXT, fill=SAND, border=_box(SAND_EDGE), unlocked=True),
        _style(RESULT_TEXT, border=_box(RULE), wrap=True),
        _style(HELP, size=8, colour=MUTED, border=_box(RULE), wrap=True),
        _style(BODY, wrap=True),
        _style(VERDICT, size=12, bold=True, border=_box(RULE), horizontal="center"),
    ):
        book.add_named_style(style)
    normal = Font(name=FONT, size=9, color=INK)
    book._fonts[0] = normal  # type: ignore[attr-defined]  # default font of cells without a style
