"""Pictures of a computed workbook as files: SVG and PNG of each."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from openpyxl import load_workbook
from openpyxl.workbook import Workbook

from xlcalc.drawing import figures
from xlcalc.drawing.single_line import single_line
from xlcalc.files.books import names
from xlcalc.studies.kinds import kinds_of
from xlcalc.workbooks.drive import arrays_sheet
from xlcalc.workbooks.pages.submittal_plant import grid, plant_in
from xlcalc.workbooks.pages.submittal_source import CHOICE

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def pictures_of(path: Path) -> Iterator[tuple[str, Figure]]:
    """Names and figures, as far as the workbook has what they show.

    Raises
    ------
    InputError
        matplotlib is missing, or inputs do not make a plant.
    """
    yield from _figures(load_workbook(path, data_only=True), path.name)


def _figures(book: Workbook, file: str) -> Iterator[tuple[str, Figure]]:
    drawn = plant_in(book, file)
    if drawn is not None:
        yield "single-line", figures.diagram(single_line(drawn.plant, drawn.pccs))
        if CHOICE not in book.defined_names:
            yield from figures.drives(kinds_of(drawn.plant))
    table = [row for row in _rows(book, arrays_sheet.PCC.name, file, 8) if row[0] != 1]
    if table:
        orders, _, current, limit, _, volts, volt_limit, _ = zip(*table, strict=True)
        unit = "% of demand current"
        yield (
            "current",
            figures.against_limits("Current at the PCC against its limits", orders, current, limit, unit),
        )
        yield (
            "voltage",
            figures.against_limits(
                "Voltage at the PCC against its limits", orders, volts, volt_limit, "% of nominal"
            ),
        )
    causes = _rows(book, arrays_sheet.CONTRIBUTIONS.name, file, 5, text=1)
    if causes:
        title = f"What causes order {causes[0][0]:g} at the PCC"
        shares = [float(row[4]) for row in causes]
        yield (
            "contributions",
            figures.ranking(title, [str(row[1]) for row in causes], shares, "% of the sum of all drives"),
        )
    shape = _rows(book, arrays_sheet.WAVEFORM.name, file, 3)
    if shape:
        tag = grid(book, names.CHOSEN_TAG, file)[0][0]
        yield "waveform", figures.cycle(f"Drive {tag}", *zip(*shape, strict=True))
        spectrum = [row for row in _rows(book, arrays_sheet.SPECTRUM.name, file, 3) if row[0] != 1]
        orders, percent, _ = zip(*spectrum, strict=True)
        nothing = [float("nan")] * len(orders)
        yield (
            "spectrum",
            figures.against_limits(f"Drive {tag}", orders, percent, nothing, "% of the fundamental"),
        )


def _rows(book: Workbook, name: str, file: str, width: int, text: int = -1) -> list[list[Any]]:
    """Rows of a block that hold numbers in every column but that of a text."""
    if name not in book.defined_names:
        return []
    found = [row[:width] for row in grid(book, name, file)]
    return [
        row for row in found if all(isinstance(cell, int | float) for k, cell in enumerate(row) if k != text)
    ]
