"""The site of a schedule from a workbook: one made from the template, or any with names and values."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from xlcalc.bulk.numerals import Decimal, is_blank
from xlcalc.bulk.rawtable import RawTable
from xlcalc.bulk.site_file import KINDS, argument_of, named_values, value_of
from xlcalc.bulk.xlsx_table import BookCells, read_xlsx_tables
from xlcalc.errors import InputError
from xlcalc.workbooks import comparison_names, names, plant_names
from xlcalc.worksheet.functions.plant_fields import MOVED_TO_SITE
from xlcalc.worksheet.kinds import Text
from xlcalc.worksheet.ranges import normalised

RANGES: Final = {names.SITE: "site", names.SETTINGS: "settings", names.STUDY: "study"}


def read_site_book(path: Path, decimal: Decimal | None = None) -> dict[str, dict[str, object]]:
    """Raw tables of a site.

    Raises
    ------
    InputError
        No known name is on the sheets, one is there twice, or the workbook is of another kind.
    WorkbookFileError
        The file is no sound workbook.
    """
    book = BookCells(path)
    if book.place(plant_names.NETWORK) is not None:
        valid = "a .toml file of a plant, such as demo/plant.toml, or a workbook with one supply"
        raise InputError(path.name, "a workbook with a network of buses", valid)
    if book.place(comparison_names.settings(1)) is not None:
        valid = "a workbook made by xlcalc new drive_study or plant_study"
        raise InputError("--site", f"{path.name}, a workbook that compares front ends of one drive", valid)
    if book.place(names.SITE) is not None:
        book.check_inputs()
        ranges = {name: book.table(name) for name in RANGES if book.place(name) is not None}
        return _from_template(ranges, decimal)
    return named_values(read_xlsx_tables(path), decimal)


def _from_template(ranges: Mapping[str, RawTable], decimal: Decimal | None) -> dict[str, dict[str, object]]:
    found: dict[str, dict[str, object]] = {section: {} for section in RANGES.values()}
    for name, section in RANGES.items():
        for row in ranges[name].rows if name in ranges else ():
            if len(row) < 2 or is_blank(row[0]) or is_blank(row[1]):
                continue
            kind = KINDS["site"] if normalised(str(row[0])) in MOVED_TO_SITE else KINDS.get(section)
            argument = argument_of(kind, str(row[0])) if kind else None
            key = argument.name if argument else normalised(str(row[0]))
            found[section][key] = value_of(row[1], argument.kind if argument else Text(), decimal)
    return found
