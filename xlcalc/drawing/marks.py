"""A drawing as plain marks in points, whatever program shows it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Form(StrEnum):
    """What a mark is."""

    LINE = "line"
    CIRCLE = "circle"
    BOX = "box"
    ARROW = "arrow"
    TEXT = "text"


@dataclass(frozen=True, kw_only=True)
class Stroke:
    """One mark of a drawing.

    Parameters
    ----------
    form : Form
    x, y : float
        Left and upper corner, points, y downwards; of a line its start.
    width, height : float
        Extent; of a line the way to its end, either 0 or more.
    text : str
        What stands in a text or a box, lines parted by a line feed.
    strong : bool
        A heavy line, or text in bold.
    colour : str
        Six hexadecimal digits.
    centred : bool
        Text in the middle instead of at the left.
    """

    form: Form
    x: float
    y: float
    width: float = 0.0
    height: float = 0.0
    text: str = ""
    strong: bool = False
    colour: str = "1F2A33"
    centred: bool = False


@dataclass(frozen=True)
class Drawing:
    """Marks and the room they take, points."""

    marks: tuple[Stroke, ...]
    width: float
    height: float
