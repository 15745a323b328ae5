"""Names that the sheets of a template share."""

from __future__ import annotations

from typing import Final

from openpyxl import Workbook
from openpyxl.utils import get_column_letter, quote_sheetname, range_boundaries
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.core.errors import InputError

SITE_SHEET: Final = "Site"
DRIVES_SHEET: Final = "Drives"
PCC_SHEET: Final = "PCC"
VIEW_SHEET: Final = "Drive view"
NOTES_SHEET: Final = "Notes"
ARRAYS_SHEET: Final = "Arrays"
REFERENCE_SHEET: Final = "Function reference"
CASE_SETTINGS_SHEET: Final = "Case settings"
SPECTRA_SHEET: Final = "Element spectra"

STUDY: Final = "study"
SITE: Final = "site"
SETTINGS: Final = "study_settings"
CALL_SETTINGS: Final = "call_settings"
MAIN_SETTINGS: Final = "drive_settings_main"
SECOND_SETTINGS: Final = "drive_settings_second"
TITLE: Final = "study_title"
EDITION: Final = "study_edition"
FREQUENCY: Final = "frequency_hz"
CAPACITORS: Final = "capacitor_mvar"
CHECKS_SHEET: Final = "Checks"
TABLE: Final = "Drives"
TAGS: Final = "drive_tags"
DRIVE_INPUTS: Final = "drive_inputs"
OUTSIDE: Final = "outside_"
SEAM: Final = "seam_"
"""Names of the two rows that meet at the edge of a table."""
DRIVE_FIGURES: Final = "drive_figures"
LAST_DRIVE_ROW: Final = "last_drive_row"
INPUT_FAULT: Final = "input_fault"
INPUT_RANGES: Final = "input_ranges"
MERGED_INPUTS: Final = "merged_inputs"
STUDY_VERDICT: Final = "study_verdict"
STUDY_REASON: Final = "study_reason"
STUDY_VERDICTS: Final = "study_verdicts"
ASSUMED_TEXT: Final = "assumed_text"
PCC_SIDE: Final = "pcc_side"
RANKING: Final = "contribution_ranking"
CHOSEN_TAG: Final = "view_tag"
TRIP_VOLTS: Final = "view_trip_volts"


def define(book: Workbook, name: str, sheet: Worksheet, cells: str) -> None:
    """A workbook name for a range given without dollar signs."""
    book.defined_names[name] = DefinedName(name, attr_text=reference(sheet.title, cells))


def place(book: Workbook, name: str, file: str) -> tuple[Worksheet, tuple[int, int, int, int]]:
    """Sheet and bounds of the one range that a name stands for.

    Raises
    ------
    InputError
        There is no such name, or it stands for something else: `file` is named.
    """
    defined = book.defined_names.get(name)
    try:
        ((title, cells),) = list(defined.destinations) if defined is not None else []
        sheet = book[title]
        if isinstance(sheet, Worksheet):
            return sheet, bounds(cells)
    except (ValueError, KeyError, TypeError):
        pass
    valid = f"a workbook with the name {name} for a range of cells, as those made from a template"
    raise InputError(file, f"without the name {name} for a range of cells", valid)


def quoted(sheet: str) -> str:
    """Name of a sheet as formulas have it, in quotes where it must be.

    Examples
    --------
    >>> quoted("Drives"), quoted("Case settings")
    ('Drives', "'Case settings'")
    """
    return sheet if sheet.isalpha() else quote_sheetname(sheet)


def reference(sheet: str, cells: str) -> str:
    """Absolute reference from another sheet to a range given without dollar signs.

    Examples
    --------
    >>> reference("Case settings", "A3:B7")
    "'Case settings'!$A$3:$B$7"
    """
    absolute = ":".join(_absolute(cell) for cell in cells.split(":"))
    return f"{quoted(sheet)}!{absolute}"


def area(first_row: int, first_column: int, last_row: int, last_column: int) -> str:
    """A1 form of a block of cells."""
    first, last = get_column_letter(first_column), get_column_letter(last_column)
    return f"{first}{first_row}:{last}{last_row}"


def pcc(quantity: str) -> str:
    """Name of the cell that holds a quantity of HD_PCC_VALUE."""
    return f"pcc_{quantity.lower()}"


def bounds(cells: str) -> tuple[int, int, int, int]:
    """First column, first row, last column, last row of a block of cells.

    Raises
    ------
    ValueError
        The text is no block of cells.

    Examples
    --------
    >>> bounds("$B$3:D9")
    (2, 3, 4, 9)
    """
    first_column, first_row, last_column, last_row = range_boundaries(cells)
    if first_column is None or first_row is None or last_column is None or last_row is None:
        raise ValueError(f"{cells} is no block of cells")
    return first_column, first_row, last_column, last_row


def _absolute(cell: str) -> str:
    letters = cell.rstrip("0123456789")
    return f"${letters}${cell[len(letters) :]}"
