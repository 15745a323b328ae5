"""Pictures as figures of matplotlib, which is loaded for them only."""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from xlcalc.drawing.marks import Drawing, Form, Stroke
from xlcalc.errors import InputError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

POINTS_PER_INCH: Final = 72.0
DPI: Final = 200
BAR, LIMIT, VOLTAGE = "#4A7C8C", "#A8321E", "#B9A06A"
TEXT_POINTS: Final = 7.0

Numbers = Sequence[float]


def as_bytes(figure: Figure, kind: str) -> bytes:
    """A figure as ``svg`` or ``png``."""
    buffer = io.BytesIO()
    figure.savefig(buffer, format=kind, dpi=DPI)
    return buffer.getvalue()


def diagram(drawing: Drawing) -> Figure:
    """A drawing at its own size."""
    figure = _figure(drawing.width / POINTS_PER_INCH, drawing.height / POINTS_PER_INCH)
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, drawing.width)
    axes.set_ylim(drawing.height, 0.0)
    axes.axis("off")
    for mark in drawing.marks:
        _draw(axes, mark)
    return figure


def _draw(axes: Axes, mark: Stroke) -> None:
    from matplotlib.patches import Ellipse, Polygon, Rectangle

    colour, line = f"#{mark.colour}", 2.5 if mark.strong and mark.form is Form.LINE else 1.0
    left, top, right, bottom = mark.x, mark.y, mark.x + mark.width, mark.y + mark.height
    middle = ((left + right) / 2.0, (top + bottom) / 2.0)
    face = "white" if mark.text else "none"
    if mark.form is Form.LINE:
        axes.plot([left, right], [top, bottom], color=colour, linewidth=line, solid_capstyle="butt")
    elif mark.form is Form.CIRCLE:
        axes.add_patch(Ellipse(middle, mark.width, mark.height, edgecolor=colour, facecolor=face))
    elif mark.form is Form.BOX:
        axes.add_patch(Rectangle((left, top), mark.width, mark.height, edgecolor=colour, facecolor=face))
    elif mark.form is Form.ARROW:
        corners = [(left, top), (right, top), (middle[0], bottom)]
        axes.add_patch(Polygon(corners, edgecolor=colour, facecolor="none"))
    if not mark.text:
        return
    inside = mark.form is not Form.TEXT
    centred = inside or mark.centred
    axes.text(
        middle[0] if centred else left,
        middle[1] if inside else top,
        mark.text,
        ha="center" if centred else "left",
        va="center" if inside else "top",
        fontsize=TEXT_POINTS,
        fontweight="bold" if mark.strong else "normal",
        color=colour,
    )


def against_limits(title: str, orders: Numbers, values: Numbers, limits: Numbers, unit: str) -> Figure:
    """Bars by order with their limits."""
    figure = _figure(9.0, 3.6, title)
    axes = figure.add_subplot()
    axes.bar(orders, values, color=BAR, label="value")
    axes.plot(orders, limits, linestyle="none", marker="_", color=LIMIT, label="limit")
    axes.set(xlabel="harmonic order", ylabel=unit)
    axes.legend()
    return figure


def ranking(title: str, names: Sequence[str], shares: Numbers, unit: str) -> Figure:
    """Horizontal bars, the first on top."""
    figure = _figure(9.0, 1.2 + 0.3 * len(names), title)
    axes = figure.add_subplot()
    axes.barh(range(len(names)), shares, color=BAR)
    axes.set_yticks(range(len(names)), names)
    axes.invert_yaxis()
    axes.set(xlabel=unit)
    return figure


def cycle(title: str, degrees: Numbers, current: Numbers, volts: Numbers) -> Figure:
    """Line current and phase voltage over one cycle."""
    figure = _figure(9.0, 3.6, title)
    axes = figure.add_subplot()
    axes.plot(degrees, current, color="#2F4858", label="line current")
    axes.plot(degrees, volts, color=VOLTAGE, label="phase voltage")
    axes.set(xlabel="degrees", ylabel="per unit of rated peak", xlim=(0, 360), xticks=range(0, 361, 60))
    axes.legend()
    return figure


def _figure(width: float, height: float, title: str = "") -> Figure:
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise InputError(
            "--plots", None, "an installation with matplotlib: pip install 'xlcalc[plot]'"
        ) from None
    figure = Figure(figsize=(width, height), layout="constrained" if title else None)
    if title:
        figure.suptitle(title)
    return figure
