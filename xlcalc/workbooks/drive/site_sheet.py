"""Sheet of inputs: study, site and settings as name and value, and what follows from them per bus."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, outside
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS
from xlcalc.schema.inputs.settings import DEMAND_ESTIMATED, PLANT_SETTINGS, STUDY
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import normalised
from xlcalc.schema.values import Scalar
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.kit import marks, page, validation
from xlcalc.workbooks.kit.labels import default_text, label

DRIVES_ROW = 10
"""Row of the headings of the sheet Drives."""

SHOWN_BACKGROUND = ("background 5th", "background 7th")
TURNS = {"unbalance deg": 2, "background 5th deg": 6, "background 7th deg": 6}
"""Degrees by which an angle turns per degree of transformer shift: order less sequence."""

BUS_QUANTITIES = (
    ("KV", "kv", "Voltage (kV)", "0.000", "Line to line"),
    (
        "SC_MVA",
        "sc_mva",
        "Fault level (MVA)",
        "0.00",
        "Three-phase short circuit, looking back into the supply",
    ),
    (
        "SC_AMPS",
        "sc_amps",
        "Short-circuit current (A)",
        "0",
        "Three-phase short circuit, drives and motors left out",
    ),
    ("X_OHM", "x_ohm", "Reactance (ohm)", "0.000000", "At the voltage of the bus and the supply frequency"),
    ("X_R", "x_r", "X/R", "0.00", "Of the impedance looking back into the supply"),
)
COLUMNS = 4
NEEDED = frozenset(
    (
        *("frequency hz", "pcc", "utility kv", "utility mva", "transformer kva", "transformer z pct"),
        *("main bus volts", "linear load kw", "capacitor mvar", "demand amps", "edition"),
    )
)
"""Inputs that every study needs a look at; the others have usual values and are for experts."""
INPUTS_TEXT = (
    "Sand-coloured cells are inputs. Bold: needed. The others, grouped at the left, are for experts: their "
    "usual value will do."
)
SIGNS_PER_WIDTH = 1.15
"""Signs of the small text of a meaning per unit of width."""
ABOVE = "B1:D3"
SITE_ROW = 7 + len(STUDY.fields)
CORNERS = {"drives at": f"Drives!A{DRIVES_ROW}", "site at": f"Site!A{SITE_ROW}"}


def build(book: Workbook, sheet: Worksheet, data: StudyData) -> None:
    """Fill the sheet and define its names."""
    page.widths(sheet, 32, 18, 30, 58)
    page.heading(sheet, "Site", INPUTS_TEXT)
    row = inputs(book, sheet, 4, "Study", names.STUDY, STUDY.fields, data.study, needed=NEEDED)
    name_cell(book, sheet, row - len(STUDY.fields), STUDY.fields, "title", names.TITLE)
    name_cell(book, sheet, row - len(STUDY.fields), STUDY.fields, "frequency hz", names.FREQUENCY)
    row = inputs(book, sheet, row + 1, "Supply", names.SITE, SITE.fields, data.site, needed=NEEDED)
    name_cell(book, sheet, row - len(SITE.fields), SITE.fields, "capacitor mvar", names.CAPACITORS)
    name_cell(book, sheet, row - len(SITE.fields), SITE.fields, "pcc", names.PCC_SIDE)
    second = _row_of(row - len(SITE.fields), SITE.fields, "second transformer kva")
    shift = _row_of(row - len(SITE.fields), SITE.fields, "second transformer shift deg")
    settings = shown_settings()
    row = inputs(
        book,
        sheet,
        row + 1,
        "Settings of the study",
        names.SETTINGS,
        settings,
        data.settings,
        corners=CORNERS,
        needed=NEEDED,
    )
    row -= len(CORNERS)
    name_cell(book, sheet, row - len(settings), settings, "edition", names.EDITION)
    setting_rows = {field.name: row - len(settings) + i for i, field in enumerate(settings)}
    page_two = row + len(CORNERS) + 1
    printed = row = _buses(book, sheet, page_two, f"$B${second}")
    row = _bus_settings(book, sheet, row + 1, setting_rows, f"$B${shift}")
    outside.frame(book, sheet, "site inputs", bottom=row - 1, width=COLUMNS, above=ABOVE)
    marks.errors(sheet, names.area(page_two, 2, row - 1, 3))
    page.set_up(sheet, area=names.area(1, 1, printed - 1, COLUMNS), title_rows="1:2")
    sheet.page_setup.fitToHeight = 1
    sheet.freeze_panes = "A4"


def shown_settings() -> tuple[Field, ...]:
    """Settings that the sheet offers: those of a whole site, without the rarer background orders.

    X/R of the source is that of the bus.
    """
    return tuple(
        field
        for field in PLANT_SETTINGS.fields
        if field.name not in ("source x/r", DEMAND_ESTIMATED.name)
        and (not field.name.startswith("background") or field.name.startswith(SHOWN_BACKGROUND))
    )


def inputs(
    book: Workbook,
    sheet: Worksheet,
    row: int,
    title: str,
    name: str,
    fields: Sequence[Field],
    values: Mapping[str, object],
    corners: Mapping[str, str] | None = None,
    needed: Collection[str] = (),
) -> int:
    """A block of named inputs; returns the row after it.

    With `needed` their names are bold and the others are an outline group.

    With `corners`, folded rows below it say where the ranges of the functions begin, so that reasons name the
    typed cell in every host; the block with them is what the functions of the sheets take as settings.
    """
    given = {normalised(key): value for key, value in values.items()}
    page.section(sheet, row, title, COLUMNS)
    for number, text in ((2, "value"), (3, "valid"), (4, "meaning")):
        sheet.cell(row, number).value = text
    first = row + 1
    for row, field in enumerate(fields, start=first):
        page.put(sheet, row, 1, label(field.name), style.LABEL)
        if field.name in needed:
            sheet.cell(row, 1).font = Font(name=style.FONT, size=9, bold=True, color=style.INK)
        elif needed and not isinstance(field.kind, Text):
            sheet.row_dimensions[row].outlineLevel = 1
        value = given.get(normalised(field.name), None if field.required else field.default)
        if isinstance(field.kind, Text):
            _wide(sheet, row)
        else:
            page.put(sheet, row, 3, field.kind.valid, style.HELP)
            page.put(sheet, row, 4, f"{field.doc} ({default_text(field)})", style.HELP)
            _fit(sheet, row, field)
        cell = sheet.cell(row, 2)
        cell.style = style.INPUT_TEXT if isinstance(field.kind, Text | Choice) else style.INPUT
        cell.value = as_cell(value)  # type: ignore[assignment]
        validation.add(sheet, f"B{row}", field)
    book_range = names.area(first, 1, row, 2)
    names.define(book, name, sheet, book_range)
    for text, corner in (corners or {}).items():
        row += 1
        title, _, place = corner.partition("!")
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(sheet, row, 2, f'="{title}!A"&ROW({title}!{place})', style.RESULT, "General")
        sheet.row_dimensions[row].hidden = True
    if corners:
        names.define(book, names.CALL_SETTINGS, sheet, names.area(first, 1, row, 2))
    gap = names.area(row + 1, 1, row + 1, COLUMNS)
    outside.watch(book, sheet, f"{sheet.title.casefold()} inputs", f"between_{row + 1}", gap)
    return row + 1


def _fit(sheet: Worksheet, row: int, field: Field) -> None:
    """Room for what is valid and for the meaning, in as many lines as they take."""
    lines = 1
    for letter, text in (("C", field.kind.valid), ("D", f"{field.doc} ({default_text(field)})")):
        room = SIGNS_PER_WIDTH * sheet.column_dimensions[letter].width
        lines = max(lines, math.ceil(len(text) / room))
    if lines > 1:
        sheet.row_dimensions[row].height = 12.0 * lines


def _wide(sheet: Worksheet, row: int) -> None:
    """A text input over the width of the block."""
    for column in (3, 4):
        sheet.cell(row, column).style = style.INPUT_TEXT
    sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)


def as_cell(value: object) -> Scalar:
    """A word of digits as the number that a drop-down enters."""
    if value is None or isinstance(value, bool | int | float):
        return value
    text = str(value)
    return int(text) if text.isascii() and text.isdigit() and len(text) < 16 else text


def _row_of(first: int, fields: Sequence[Field], name: str) -> int:
    return first + [field.name for field in fields].index(name)


def name_cell(
    book: Workbook, sheet: Worksheet, first: int, fields: Sequence[Field], field: str, name: str
) -> None:
    names.define(book, name, sheet, f"B{_row_of(first, fields, field)}")


def _buses(book: Workbook, sheet: Worksheet, row: int, second_kva: str) -> int:
    page.section(sheet, row, "Buses", COLUMNS)
    for number, text in ((2, "main bus"), (3, "second bus"), (4, "meaning")):
        sheet.cell(row, number).value = text
    for quantity, short, text, number_format, meaning in BUS_QUANTITIES:
        row += 1
        page.put(sheet, row, 1, text, style.LABEL)
        page.put(
            sheet, row, 2, f'=HD_BUS_VALUE({names.SITE},"main","{quantity}")', style.RESULT, number_format
        )
        formula = f'=IF({second_kva}="","",HD_BUS_VALUE({names.SITE},"second","{quantity}"))'
        page.put(sheet, row, 3, formula, style.RESULT, number_format)
        page.put(sheet, row, 4, meaning, style.HELP)
        names.define(book, f"main_bus_{short}", sheet, f"B{row}")
        names.define(book, f"second_bus_{short}", sheet, f"C{row}")
    row += 1
    page.put(sheet, row, 1, "Resonance order with capacitors", style.LABEL)
    resonance = f'=IF(N({names.CAPACITORS})=0,"",HD_RESONANCE_ORDER(main_bus_sc_mva,{names.CAPACITORS}))'
    page.put(sheet, row, 2, resonance, style.RESULT, "0.0")
    page.put(sheet, row, 3, None, style.RESULT)
    note = "Of plain capacitors against the supply; the study holds them, and the linear load damps"
    page.put(sheet, row, 4, note, style.HELP)
    return row + 1


def _bus_settings(
    book: Workbook, sheet: Worksheet, row: int, setting_rows: Mapping[str, int], second_shift: str
) -> int:
    """Settings of a single drive for each bus: those of the study, with X/R and phase shift of the bus."""
    defaults = PLANT_SETTINGS.defaults
    for title, name, x_r, shift in (
        ("Settings of a drive on the main bus", names.MAIN_SETTINGS, "main_bus_x_r", ""),
        ("Settings of a drive on the second bus", names.SECOND_SETTINGS, "second_bus_x_r", second_shift),
    ):
        page.section(sheet, row, title, COLUMNS)
        first = row + 1
        for row, field in enumerate(_drive_fields(setting_rows), start=first):
            page.put(sheet, row, 1, label(field.name), style.LABEL)
            source = x_r if field.name == "source x/r" else f"$B${setting_rows[field.name]}"
            turned = (
                f"MOD({source}-{TURNS[field.name]}*{shift},360)" if shift and field.name in TURNS else source
            )
            blank = x_r if field.name == "source x/r" else _literal(defaults[field.name] or 0.0)
            formula = f'=IF({source}="",{blank},{turned})'
            shown = "0.00" if field.name == "source x/r" else "General"
            page.put(sheet, row, 2, formula, style.RESULT, shown)
            page.put(sheet, row, 3, None, style.HELP)
            page.put(sheet, row, 4, field.doc, style.HELP)
            _fit(sheet, row, field)
        names.define(book, name, sheet, names.area(first, 1, row, 2))
        row += 2
    return row - 1


def _literal(value: object) -> str:
    """A default as a constant of a formula."""
    return f"{value:.15g}" if isinstance(value, float | int) else f'"{value}"'


def _drive_fields(setting_rows: Mapping[str, int]) -> list[Field]:
    return [f for f in DRIVE_SETTINGS.fields if f.name == "source x/r" or f.name in setting_rows]
