"""Pictures as figures of matplotlib, which is loaded for them only."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import TYPE_CHECKING, Final

from xlcalc.core.errors import InputError
from xlcalc.drawing.marks import Drawing, Form, Stroke
from xlcalc.studies.kinds import DriveKind

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

POINTS_PER_INCH: Final = 72.0
DPI: Final = 200
BAR, LIMIT, VOLTAGE, CURRENT = "#4A7C8C", "#A8321E", "#B9A06A", "#2F4858"
TEXT_POINTS: Final = 7.0
SHOWN_ORDERS: Final = 25
MOST_DRIVES: Final = 60

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
    axes.set(xlabel="harmonic order", ylabel=unit)
    if any(map(math.isfinite, limits)):
        axes.plot(orders, limits, linestyle="none", marker="_", color=LIMIT, label="limit")
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
    axes.plot(degrees, current, color=CURRENT, label="line current")
    axes.plot(degrees, volts, color=VOLTAGE, label="phase voltage")
    axes.set(xlabel="degrees", ylabel="per unit of rated peak", xlim=(0, 360), xticks=range(0, 361, 60))
    axes.legend()
    return figure


def drives(kinds: Sequence[DriveKind]) -> Iterator[tuple[str, Figure]]:
    """Names and figures of the drives that have a solution, the first `MOST_DRIVES`."""
    solved = (kind for kind in kinds if kind.spectrum is not None)
    for number, kind in enumerate(islice(solved, MOST_DRIVES), start=1):
        yield f"drive {number:02d}", drive(kind)


def drive(kind: DriveKind) -> Figure:
    """Spectrum and waveform of a kind of drive that has a solution."""
    assert kind.spectrum is not None
    figure = _figure(9.0, 3.2, f"{kind.named}: {kind.text}; THD {kind.spectrum.thd_pct:.1f} %")
    bars, wave = figure.subplots(1, 2)
    bars.bar(range(2, SHOWN_ORDERS + 1), kind.spectrum.percent[1:SHOWN_ORDERS], color=BAR)
    bars.set(xlabel="harmonic order", ylabel="% of the fundamental")
    degrees, current, volts = kind.cycle
    wave.plot(degrees, current, color=CURRENT, label="line current")
    wave.plot(degrees, volts, color=VOLTAGE, label="phase voltage")
    wave.set(xlabel="degrees", ylabel="per unit of rated peak", xlim=(0, 360), xticks=range(0, 361, 60))
    wave.legend()
    return figure


def shares(title: str, percent: Numbers, curves: Mapping[str, Numbers], limit: float, unit: str) -> Figure:
    """Values that a share of cases does not exceed, with their limit unless it is not finite."""
    figure = _figure(9.0, 3.6, title)
    axes = figure.add_subplot()
    for name, values in curves.items():
        axes.plot(percent, values, label=name)
    if math.isfinite(limit):
        axes.axhline(limit, color=LIMIT, linestyle="--", label="limit")
    axes.set(xlabel="share of the combinations that does not exceed it (%)", ylabel=unit, xlim=(0, 100))
    axes.set_ylim(bottom=0.0)
    axes.legend()
    return figure


def trade_off(
    title: str, points: Sequence[tuple[float, float, str]], chosen: tuple[float, float], unit: str
) -> Figure:
    """Cost over distortion: x, y and label of each point, and the chosen one."""
    figure = _figure(9.0, 4.2, title)
    axes = figure.add_subplot()
    across, up = [x for x, _, _ in points], [y for _, y, _ in points]
    axes.plot(across, up, color=BAR, marker="o", label="cheapest for its TDD, no other limit asked for")
    for x, y, text in points:
        axes.annotate(text, (x, y), xytext=(5, 7), textcoords="offset points", fontsize=TEXT_POINTS)
    axes.plot(*chosen, color=LIMIT, marker="D", markersize=9, linestyle="none", label="chosen mix")
    axes.set(xlabel="largest TDD, % of the demand current", ylabel=unit)
    axes.set_ylim(bottom=0.0)
    axes.margins(x=0.12)
    axes.legend()
    return figure


def traces(title: str, seconds: Numbers, samples: Mapping[str, Numbers], unit: str) -> Figure:
    """Samples over time."""
    figure = _figure(9.0, 3.6, title)
    axes = figure.add_subplot()
    for name, values in samples.items():
        axes.plot([1e3 * second for second in seconds], values, label=name)
    axes.set(xlabel="ms", ylabel=unit)
    axes.legend()
    return figure


def needed() -> None:
    """Refuse pictures where there is no matplotlib."""
    _figure(1.0, 1.0)


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
