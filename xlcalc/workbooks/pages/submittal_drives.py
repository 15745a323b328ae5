"""Pages of the drives: a table of every kind, and waveform and spectrum of each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import charts, style
from xlcalc.files.books import names
from xlcalc.studies.kinds import POINTS, DriveKind
from xlcalc.workbooks.kit import page

FRONT_ENDS: Final = "Front ends"
DATA: Final = "Front end data"
HEADINGS: Final = (
    *("no.", "drives", "units", "link (kW)", "pulses", "reactor (%)", "choke (%)", "load (%)", "source (%)"),
    *("THD (%)", "5th (%)", "7th (%)", "11th (%)", "13th (%)"),
)
WIDTHS: Final = (5.0, 22.0, 6.0, *[8.0] * (len(HEADINGS) - 3))
SPECTRUM_COLUMNS: Final = 7
FORMATS: Final = ("0", "@", "0", "0.0", "0", "0.0", "0.0", "0", "0.00", *["0.0"] * 5)
TABLE_ROW: Final = 4
CHART_ROWS: Final = 11
A_PAGE: Final = 4
"""Kinds on a page; a fifth would be cut by the foot of A4 in LibreOffice."""
MOST_SHOWN: Final = 60
SHOWN_ORDERS: Final = 25
DIGITS: Final = 6
"""Significant digits of the values behind the charts, which processors agree on."""

NOTE: Final = (
    "Line current of one drive of each kind, alone on its bus and in the phase with the largest distortion; "
    "percent values on the rated DC-link power, spectrum in percent of the fundamental. Calculated from the "
    "input cells when these pages were made. The results at the PCC come from the study of all drives "
    "together."
)


def front_end_sheets(sheet: Worksheet, data: Worksheet, kinds: Sequence[DriveKind]) -> None:
    """Fill the printed sheet and the hidden one that its charts show."""
    data.sheet_state = "hidden"
    page.widths(sheet, *WIDTHS)
    page.heading(sheet, "Drives: waveform and spectrum of every kind", "")
    width = len(HEADINGS)
    page.notes(sheet, 2, (NOTE,), width)
    row = _table(sheet, kinds)
    solved = [(number, kind) for number, kind in enumerate(kinds, start=1) if kind.spectrum is not None]
    first = max(0, A_PAGE - math.ceil(row / (CHART_ROWS + 1)))
    for count, (number, kind) in enumerate(solved[:MOST_SHOWN]):
        row += 1
        if count >= first and (count - first) % A_PAGE == 0:
            page.break_before(sheet, row)
        _shown(sheet, data, row, count, number, kind)
        row += CHART_ROWS + 1
    if len(solved) > MOST_SHOWN:
        row += 1
        rest = len(solved) - MOST_SHOWN
        text = f"Not drawn here: {rest} further kinds, whose figures stand in the table."
        page.put_text(sheet, row, 1, text, style.SUBTITLE)
    page.set_up(sheet, area=names.area(1, 1, row, width))


def _table(sheet: Worksheet, kinds: Sequence[DriveKind]) -> int:
    page.headings(sheet, TABLE_ROW, HEADINGS)
    sheet.row_dimensions[TABLE_ROW].height = 27
    row = TABLE_ROW
    for number, kind in enumerate(kinds, start=1):
        row += 1
        own = kind.front_end
        given = (
            *(number, kind.named, kind.units, kind.rated_watts / 1e3, own.pulses),
            *(own.reactor_pct, own.choke_pct, own.load_pct, own.source_pct),
        )
        found = _figures(kind)
        for column, value in enumerate((*given, *found), start=1):
            if isinstance(value, str):
                page.put_text(sheet, row, column, value, style.RESULT_TEXT)
            else:
                page.put(sheet, row, column, value, style.FIGURE, FORMATS[column - 1])
        if not found:
            page.put_text(sheet, row, len(given) + 1, f"no result: {kind.reason}", style.RESULT_TEXT)
            sheet.merge_cells(start_row=row, end_row=row, start_column=10, end_column=len(HEADINGS))
    return row


def _figures(kind: DriveKind) -> tuple[float, ...]:
    if kind.spectrum is None:
        return ()
    percent = kind.spectrum.percent
    return tuple(
        _short(value) for value in (kind.spectrum.thd_pct, *(percent[h - 1] for h in (5, 7, 11, 13)))
    )


def _shown(sheet: Worksheet, data: Worksheet, row: int, count: int, number: int, kind: DriveKind) -> None:
    """One kind: what it is, its spectrum on the left and its waveform on the right."""
    assert kind.spectrum is not None
    page.section(sheet, row, f"{number}: {kind.named}: {kind.text}", len(HEADINGS))
    top = 2 + count * (POINTS + 2)
    percent = kind.spectrum.percent
    for order in range(2, SHOWN_ORDERS + 1):
        data.cell(top + order, 1).value = order
        data.cell(top + order, 2).value = _short(percent[order - 1])
    degrees, amps, volts = kind.cycle
    for step in range(POINTS):
        for column, value in ((4, degrees[step]), (5, amps[step]), (6, volts[step])):
            data.cell(top + step, column).value = _short(value)
    spectrum = charts.bars(
        charts.ChartRows(data, top + 2, top + SHOWN_ORDERS, x_column=1),
        2,
        "line current",
        f"Spectrum, THD {kind.spectrum.thd_pct:.1f} %",
        "% of fundamental",
    )
    waveform = charts.curves(
        charts.ChartRows(data, top, top + POINTS - 1, x_column=4),
        ((5, "line current", charts.CURRENT), (6, "phase voltage", charts.VOLTAGE)),
        "Line current and phase voltage",
        "per unit of rated peak",
    )
    spectrum.legend = None
    charts.place(sheet, spectrum, row + 1, CHART_ROWS, SPECTRUM_COLUMNS)
    charts.place(sheet, waveform, row + 1, CHART_ROWS, len(HEADINGS), first=SPECTRUM_COLUMNS)


def _short(value: float) -> float:
    return float(f"{value:.{DIGITS}g}")
