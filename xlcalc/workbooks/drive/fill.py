"""Filling a workbook with a site and a drive schedule, inside its own package.

Only input cells, the rows of the drive table and what hangs on them are written; charts, pictures and every
other part stay as they are. Values of formulas are dropped, so that no result of other inputs remains:
recalculate the workbook afterwards.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from openpyxl.workbook import Workbook

from xlcalc.core.errors import InputError
from xlcalc.files.books import names
from xlcalc.recalc.loaded import loaded
from xlcalc.recalc.xlsx.package import WorkbookPackage
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS, STUDY
from xlcalc.schema.inputs.site import SITE, with_moved_names
from xlcalc.schema.tables import NamedValues, normalised
from xlcalc.schema.values import Grid, Scalar
from xlcalc.workbooks.drive.drives_sheet import SPARE
from xlcalc.workbooks.drive.site_sheet import as_cell
from xlcalc.workbooks.drive.study_data import StudyData
from xlcalc.workbooks.kit.editing.book_parts import BookParts
from xlcalc.workbooks.kit.editing.table_rows import replace_rows


def fill_template(template: Path, data: StudyData, target: Path) -> None:
    """Write a copy of a template with the inputs of a study.

    Parameters
    ----------
    template : Path
        A workbook with the names `study`, `site` and `study_settings` (two columns, name and value) and the
        table `Drives`. It may be an adapted copy of the shipped one.
    data : StudyData
        Site and study replace what the template holds: a name that is not given takes its default. Settings
        that are not given stay as they are in the template.
    target : Path
        The workbook to write; it appears complete or not at all.

    Raises
    ------
    InputError
        A value is missing, unknown or out of range, or the template lacks a name, table or column.
    WorkbookFileError
        The template is not a valid workbook, or the target cannot be written.
    """
    study, site = with_moved_names(data.study, data.site)
    data = replace(data, study=study, site=site)
    tags = _checked(data)
    package = WorkbookPackage.open(template)
    parts = BookParts(package)
    book = loaded(package)
    _fill_names(parts, book, names.SITE, SITE, data.site, keep=False)
    _fill_names(parts, book, names.SETTINGS, PLANT_SETTINGS, data.settings, keep=True)
    if names.STUDY in book.defined_names or data.study:
        _fill_names(parts, book, names.STUDY, STUDY, data.study, keep=False)
    _fill_drives(parts, book, data)
    _choose_drive(parts, book, tags)
    parts.drop_results()
    parts.write(target)


def put_values(
    book_file: Path,
    target: Path,
    *,
    site: Mapping[str, object],
    settings: Mapping[str, object],
    tag: str,
    drive: Mapping[str, object],
) -> tuple[str, ...]:
    """Write a copy of a study in which some inputs have other values; everything else stays.

    Parameters
    ----------
    book_file, target : Path
        As `fill_template`; recalculate the target afterwards.
    site, settings : mapping
        Values by the names of the ranges `site` and `study_settings`.
    tag : str
        The drive that `drive` is about.
    drive : mapping
        Values by the column of the table of drives.

    Returns
    -------
    tuple of str
        Names that the sheets do not offer, which were left out.

    Raises
    ------
    InputError
        The workbook lacks a range or the tag, or a value is out of its range.
    WorkbookFileError
        As `fill_template`.
    """
    package = WorkbookPackage.open(book_file)
    parts, book = BookParts(package), loaded(package)
    left_out: list[str] = []
    for name, kind, values in ((names.SITE, SITE, site), (names.SETTINGS, PLANT_SETTINGS, settings)):
        for field in kind.fields:
            if field.name in values:
                field.convert(as_cell(values[field.name]), field.name)
        offered = _offered(book, name)
        left_out += [key for key in values if normalised(key) not in offered]
        kept = {key: value for key, value in values.items() if normalised(key) in offered}
        _fill_names(parts, book, name, kind, kept, keep=True)
    title, (left, header, right, last) = _place(book, names.DRIVE_INPUTS)
    sheet = book[title]
    columns = {normalised(str(sheet.cell(header, c).value)): c for c in range(left, right + 1)}
    tags = {str(sheet.cell(row, columns["tag"]).value).casefold(): row for row in range(header + 1, last + 1)}
    if tag.casefold() not in tags:
        raise InputError("drive", tag, f"a tag of the sheet {title}")
    for name, value in drive.items():
        if name in columns:
            parts.sheet(title).set_value(tags[tag.casefold()], columns[name], as_cell(value))
        else:
            left_out.append(name)
    parts.drop_results()
    parts.write(target)
    return tuple(left_out)


def _offered(book: Workbook, name: str) -> set[str]:
    sheet, (column, first, _, last) = _place(book, name)
    return {normalised(str(book[sheet].cell(row, column).value or "")) for row in range(first, last + 1)}


def _checked(data: StudyData) -> list[str]:
    """Check all values as the functions will; gives the tags."""
    SITE.convert(_pairs(data.site), names.SITE)
    PLANT_SETTINGS.convert(_pairs(data.settings), "settings")
    STUDY.convert(_pairs(data.study), names.STUDY)
    headings = list(dict.fromkeys(key for row in data.drives for key in row))
    rows: Grid = [[_scalar(row.get(key), key) for key in headings] for row in data.drives]
    return [str(record["tag"]) for record in DRIVES.convert([list(headings), *rows], "drives")]


def _pairs(values: Mapping[str, object]) -> Grid:
    return [[name, _scalar(value, name)] for name, value in values.items()]


def _scalar(value: object, name: str) -> Scalar:
    if value is not None and not isinstance(value, str | int | float | bool):
        raise InputError(name, str(value), "a number or a text", wrong_kind=True)
    return value


def _fill_names(
    parts: BookParts,
    book: Workbook,
    name: str,
    kind: NamedValues,
    values: Mapping[str, object],
    *,
    keep: bool,
) -> None:
    """Write values beside their names; `keep` leaves what is not given."""
    sheet, (first_column, first_row, _, last_row) = _place(book, name)
    given = {normalised(key): value for key, value in values.items()}
    known = {normalised(field.name): field for field in kind.fields}
    offered = set()
    for row in range(first_row, last_row + 1):
        key = normalised(str(book[sheet].cell(row, first_column).value or ""))
        if key not in known:
            continue
        offered.add(key)
        if key in given:
            parts.sheet(sheet).set_value(row, first_column + 1, as_cell(given[key]))
        elif not keep:
            field = known[key]
            default = None if field.required else field.default
            parts.sheet(sheet).set_value(row, first_column + 1, as_cell(default))
    missing = [key for key in given if key not in offered]
    if missing:
        raise InputError(f"name {missing[0]}", "not offered", f"a name in the range {name} of the template")


def _fill_drives(parts: BookParts, book: Workbook, data: StudyData) -> None:
    """Write the rows into the table and blank the rest of the room; a table without room fits them."""
    sheet = next((s for s in book.worksheets if names.TABLE in s.tables), None)
    if sheet is None:
        raise InputError(
            "template", f"without the table {names.TABLE}", f"a workbook with a table {names.TABLE}"
        )
    rows = [{normalised(key): as_cell(value) for key, value in row.items()} for row in data.drives]
    room = names.DRIVE_INPUTS in book.defined_names
    if room:
        title, (left, header, right, last) = _place(book, names.DRIVE_INPUTS)
        if len(rows) > last - header:
            valid = f"at most {last - header}, the room of the sheet {title}"
            raise InputError("drives", f"{len(rows)} rows", valid)
        for row in range(header + len(rows) + 1, last + 1):
            for column in range(left, right + 1):
                parts.sheet(title).set_value(row, column, None)
    table = parts.table(names.TABLE)
    stretch = replace_rows(parts.sheet(sheet.title), table, rows, spare=SPARE if room else None)
    used = {heading for row in rows for heading in row}
    shown = [
        k for k, heading in zip(stretch.columns, table.headings, strict=True) if normalised(heading) in used
    ]
    parts.sheet(sheet.title).show_columns(shown)
    parts.move_names(sheet.title, stretch)


def _choose_drive(parts: BookParts, book: Workbook, tags: list[str]) -> None:
    """Where a drive was chosen that is no longer there, choose the first."""
    if names.CHOSEN_TAG not in book.defined_names:
        return
    sheet, (column, row, _, _) = _place(book, names.CHOSEN_TAG)
    chosen: Any = book[sheet].cell(row, column)
    if chosen.data_type != "f" and str(chosen.value) not in tags:
        parts.sheet(sheet).set_value(row, column, tags[0])


def _place(book: Workbook, name: str) -> tuple[str, tuple[int, int, int, int]]:
    sheet, area = names.place(book, name, "template")
    return sheet.title, area
