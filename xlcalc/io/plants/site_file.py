"""The site of a schedule, read from a TOML file, a CSV file or a workbook."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.files.books import comparison_names, names, plant_names
from xlcalc.files.toml import read_toml
from xlcalc.io.lists.files import TABLE_FILE, WORKBOOK_SUFFIXES, read_tables
from xlcalc.io.lists.numerals import Decimal, is_blank
from xlcalc.io.lists.rawtable import RawTable
from xlcalc.io.lists.xlsx_table import BookCells, read_xlsx_tables
from xlcalc.io.plants.plant_book import plant_in_book
from xlcalc.io.plants.plant_file import PlantSite, plant_from
from xlcalc.io.plants.site import KINDS, Site, argument_of, is_known, named_values, site_from, value_of
from xlcalc.schema.inputs.site import MOVED_TO_SITE
from xlcalc.schema.kinds import Text
from xlcalc.schema.tables import normalised

SECTIONS: Final = ("study", "site", "settings", "buses")
RANGES: Final = {names.SITE: "site", names.SETTINGS: "settings", names.STUDY: "study"}


def read_drive_site(path: Path, decimal: Decimal | None = None) -> Site | PlantSite:
    """Read a site, or a plant given as a network of buses; parameters and errors as `read_site`."""
    if path.suffix.lower() == ".toml":
        content = read_toml(path)
        if isinstance(content.get("buses"), list):
            return plant_from(path, content)
    if path.suffix.lower() in WORKBOOK_SUFFIXES:
        plant = plant_in_book(path)
        if plant is not None:
            return plant
    return read_site(path, decimal)


def read_site(path: Path, decimal: Decimal | None = None) -> Site:
    """Read a site.

    Parameters
    ----------
    path : Path
        ``.toml`` with the tables ``[study]``, ``[site]``, ``[settings]`` and ``[buses]``; a workbook made
        from the template; or a table in another file with rows of name and value. There a row that says only
        ``site`` or ``settings`` tells where the names below it belong; without it, names are those of `site`
        first.
    decimal : Decimal, optional
        Decimal sign of a CSV file that does not tell.

    Raises
    ------
    InputError
        A name that does not exist, a value out of range, a value that is missing.
    WorkbookFileError
        The file is not a valid workbook.
    """
    suffix = path.suffix.lower()
    if suffix == ".toml":
        return site_from(path.stem, site_tables(path))
    if suffix in WORKBOOK_SUFFIXES:
        return site_from(path.stem, _site_in_book(path, decimal))
    tables = read_tables(path, "--site", known=is_known, files=f".toml, or {TABLE_FILE}")
    return site_from(path.stem, named_values(tables, decimal))


def site_tables(path: Path) -> dict[str, dict[str, object]]:
    """Raw tables of a site's TOML file; raises `InputError` for a file or table that is none of a site."""
    tables = read_toml(path)
    for name, table in tables.items():
        if name not in SECTIONS or not isinstance(table, dict):
            raise InputError(f"table in {path.name}", name, f"one of {', '.join(SECTIONS)}")
    return tables


def _site_in_book(path: Path, decimal: Decimal | None = None) -> dict[str, dict[str, object]]:
    """Raw tables of a site.

    Raises
    ------
    InputError
        No known name is on the sheets, one is there twice, or the workbook is of another kind.
    WorkbookFileError
        The file is not a valid workbook.
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
