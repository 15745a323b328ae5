"""The template of a choice: plant, what can be bought, terms, and the cheapest mix that passes."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.drawing import style
from xlcalc.files.books import names, plant_names
from xlcalc.schema.inputs.options import FRONT_ENDS, PRICES, SPECTRA
from xlcalc.schema.inputs.options import OPTIONS as OPTION_TABLES
from xlcalc.schema.inputs.terms import CASES, PCCS, PINS, PLACES, TERMS_TABLES
from xlcalc.schema.inputs.terms import TERMS as GENERAL_TERMS
from xlcalc.workbooks.choice import choice_result_sheet
from xlcalc.workbooks.choice.choice_data import ChoiceData
from xlcalc.workbooks.drive import drives_sheet
from xlcalc.workbooks.drive.notes_text import CAUTIONS
from xlcalc.workbooks.kit import package, page, result_cells
from xlcalc.workbooks.kit.sheets import checks_sheet, notes_sheet, reference_sheet, stack_sheet
from xlcalc.workbooks.plant import network_sheet, plant_drives_sheet, study_sheet
from xlcalc.workbooks.plant import plant_drives_sheet as plant_schedule

FILE_NAME: Final = "choice_study.xlsx"
OPTIONS_SHEET: Final = "Options"
TERMS_SHEET: Final = "Terms"
OPTIONS: Final = choice_result_sheet.OPTIONS
TERMS: Final = choice_result_sheet.TERMS
HEADER_ROW: Final = 5
HELD_OPTIONS: Final = {
    FRONT_ENDS: 8,
    PRICES: 8,
    SPECTRA: 16,
}
HELD_TERMS: Final = {
    GENERAL_TERMS: 1,
    PCCS: 4,
    CASES: 6,
    PINS: 8,
    PLACES: 6,
}
SHEETS: Final = (
    choice_result_sheet.SHEET,
    plant_names.STUDY_SHEET,
    plant_names.NETWORK_SHEET,
    names.DRIVES_SHEET,
    OPTIONS_SHEET,
    TERMS_SHEET,
    names.NOTES_SHEET,
    names.REFERENCE_SHEET,
    names.CHECKS_SHEET,
    names.ARRAYS_SHEET,
)


def build(data: ChoiceData) -> Workbook:
    """The workbook with the inputs of `data`; its formulas hold no values yet."""
    book, sheets = package.framed("Choice of mitigation", SHEETS)
    result, study, network, drives, options, terms, notes, reference, checks, arrays = sheets.values()
    study_sheet.build(book, study, data.plant)
    page.put(
        study,
        2,
        1,
        "Sand-coloured cells are inputs. Then fill in Network, Drives, Options, Terms.",
        style.SUBTITLE,
    )
    network_sheet.build(book, network, data.plant)
    _drives(book, drives, data)
    buses = plant_names.column("buses", "name")
    stack_sheet.build(
        book,
        options,
        OPTION_TABLES,
        data.options,
        name=OPTIONS,
        heading=(
            "Options",
            "What can be bought. The shipped prices, losses and spectra are invented: replace them by yours.",
        ),
        held=HELD_OPTIONS,
        lists={},
        wide={1: 26, 3: 24},
    )
    stack_sheet.build(
        book,
        terms,
        TERMS_TABLES,
        data.terms,
        name=TERMS,
        heading=(
            "Terms",
            "Tariff and margin; where, and in which states of the plant, the limits must hold.",
        ),
        held=HELD_TERMS,
        lists={"bus": buses},
        wide={1: 22, 2: 44, 3: 24, 5: 26},
    )
    choice_result_sheet.build(book, result, arrays)
    notes_sheet.build(notes, CHOICE_STUDY)
    reference_sheet.build(reference)
    checks_sheet.build(
        book,
        checks,
        (names.STUDY, names.SETTINGS, plant_names.NETWORK, names.DRIVE_INPUTS, OPTIONS, TERMS),
    )
    result_cells.watch(book)
    return book


def _drives(book: Workbook, sheet: Worksheet, data: ChoiceData) -> None:
    """The schedule as a table of inputs."""
    inputs = plant_schedule.input_headings()
    page.widths(sheet, 10, 26, 10, 9, 8, 11, 14, 9, 12, 10, 9, 9, 9, 9, 9, 9)
    page.heading(sheet, "Drives", drives_sheet.room_text(HEADER_ROW, computed=False))
    page.study_title(sheet)
    drives_sheet.fault(sheet, HEADER_ROW - 1)
    drives_sheet.fill(book, sheet, HEADER_ROW, data.plant.drives, inputs, (), 1)
    plant_drives_sheet.with_buses(sheet, HEADER_ROW, inputs, len(inputs))
    page.set_up(
        sheet,
        area=names.area(1, 1, HEADER_ROW + drives_sheet.ROOM, len(inputs)),
        orientation="landscape",
        title_rows=f"{HEADER_ROW}:{HEADER_ROW}",
        protect=False,
    )
    page.print_to(sheet, names.LAST_DRIVE_ROW, len(inputs), HEADER_ROW + drives_sheet.ROOM)
    sheet.freeze_panes = f"B{HEADER_ROW + 1}"


ASSUMPTIONS: Final = (
    "Every option of every drive is solved in every case; the currents add up as phasors by order. An"
    " integer programme (HiGHS) finds the mix of least cost. The mix is then studied again from the "
    "start, coupled: drives, filters, banks and network in one state. Where that finds more, the "
    "search is repeated with the correction.",
    "The proof gap is that of the search. It does not cover mixes that the coupled study alone lets pass.",
    "A passive filter ahead of a drive is solved as a circuit together with the bridge. An active "
    "front end and an active filter are residual spectra with the basis that is stated; currents of "
    "unknown angle add in magnitude.",
    "A bank is solved in the network. It is refused where its rms voltage, peak voltage, current or "
    "kvar exceeds the stated standard for capacitors in any case. It stays in service in cases that "
    "take the capacitors of the network out.",
    "All units of a row of the schedule get the same front end. Losses count over the stated years "
    "and hours, load losses with the square of the load.",
    "Generator cases: with the utility out of service the largest generator is the supply, and limits"
    " are judged at the PCCs that it still feeds.",
)

HANDLING: Final = (
    "Sand-coloured cells are inputs: Study, Network, Drives, Options, Terms. Titles and headings of "
    "the tables must stay; blank rows are passed over. Insert whole rows inside a table for more.",
    "Options: a price is a + b kW^c, or blank with points in the table Prices. Names are free; pins "
    "and places refer to them. A front end named only in the schedule counts through a pin with: as "
    "scheduled.",
    "An error names cell, row and table. xlcalc recalc --reasons writes the reason of every error "
    "into a sheet.",
    "xlcalc recalc choice_study.xlsx computes this workbook. xlcalc choose choice_study.xlsx -o "
    "OUT.xlsx reads the same sheets and writes the whole answer: verdicts case by case, cost against "
    "TDD, the next best mixes, what the money buys.",
)

CHOICE_STUDY: Final = {
    "Cautions": CAUTIONS,
    "Assumptions of the model": ASSUMPTIONS,
    "Handling": HANDLING,
}
