"""The plant of a schedule from a workbook of the template for networks of buses; its drives are left aside.

Only cells that a user enters are read, not the results, so that the workbook need not be calculated.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.files.books import names, plant_names
from xlcalc.io.lists.numerals import is_blank
from xlcalc.io.lists.rawtable import plain, plain_grid
from xlcalc.io.lists.xlsx_table import BookCells
from xlcalc.io.plants.plant_file import PlantSite, Values, plant_of_tables
from xlcalc.recalc.cellnames import column_number
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.equipment import EQUIPMENT_TABLES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import CASE_FIELDS
from xlcalc.schema.kinds import one_of
from xlcalc.schema.places import PlacedValues
from xlcalc.schema.tables import normalised
from xlcalc.schema.values import Grid, Scalar

CHOICE_TERMS: Final = "choice_terms"
CELL: Final = re.compile(r"(?:'((?:[^']|'')+)'|(\w[\w.]*))!\$?([A-Z]{1,3})\$?(\d+)")
NTH_BUS: Final = re.compile(rf"=INDEX\({plant_names.column('buses', 'name')},(\d+)\)")
CASE_INPUTS: Final = {field.name for field in CASE_FIELDS if field.name != "solution"}


def plant_in_book(path: Path) -> PlantSite | None:
    """The plant of a workbook; None where it holds no network of buses.

    The PCCs are those that the workbook judges, and the buses with a demand current.

    Raises
    ------
    InputError
        A cell is wrong, or a formula among the inputs has no value; or it is a workbook of a choice.
    WorkbookFileError
        The file is not a valid workbook.
    """
    book = _plant_book(path)
    if book is None:
        return None
    tables = _tables(book)
    settings, study = _pairs(book, names.SETTINGS), _named(book, names.STUDY)
    return plant_of_tables(path, tables, settings, list(_cases(book)), study, _pccs(book, tables))


def plant_content(path: Path) -> tuple[dict[str, Any], tuple[str, ...]] | None:
    """Inputs of a workbook of a plant, in the form of its TOML file, and the PCCs that it judges.

    Errors, and None for another workbook, as `plant_in_book`; the drives are left aside here too.
    """
    book = _plant_book(path)
    if book is None:
        return None
    tables = _tables(book)
    content: dict[str, Any] = {
        "study": _named(book, names.STUDY),
        "settings": _named(book, names.SETTINGS),
        "cases": list(_cases(book)),
        "equipment": {
            field: plain(cell)
            for field, name in plant_names.CHOICES.items()
            if book.place(name) is not None and not is_blank(cell := book.table(name).rows[0][0])
        },
        **{
            section.title: [_typed(row, section.records.fields) for row in tables[section.title]]
            for section in NETWORK.sections
        },
    }
    for title, kind in EQUIPMENT_TABLES.items():
        area = plant_names.column(title, "rows")
        rows = plain_grid(book.table(area).rows) if book.place(area) is not None else []
        fields = [field.name for field in kind.fields]
        filled = ({n: v for n, v in zip(fields, row, strict=False) if not is_blank(v)} for row in rows)
        content[title] = [row for row in filled if row]
    return content, _pccs(book, tables)


def _plant_book(path: Path) -> BookCells | None:
    book = BookCells(path)
    if book.place(plant_names.NETWORK) is None:
        return None
    if book.place(CHOICE_TERMS) is not None:
        valid = "a workbook made by xlcalc new plant_study; for this one: xlcalc choose"
        raise InputError("--site", f"{path.name}, a workbook of a choice", valid)
    book.check_inputs()
    return book


def _tables(book: BookCells) -> Any:
    titles = {section.title for section in NETWORK.sections}
    return NETWORK.convert(plain_grid(book.table(plant_names.NETWORK, titles).rows), "sheet Network")


def _typed(row: PlacedValues, fields: Iterable[Field]) -> dict[str, object]:
    given = {field.name: row[field.name] for field in fields if field.name not in row.blank}
    return {name: value for name, value in given.items() if value is not None}


def _named(book: BookCells, area: str) -> dict[str, Scalar]:
    return {normalised(str(name)): value for name, value in _pairs(book, area)}


def _pairs(book: BookCells, name: str) -> Grid:
    if book.place(name) is None:
        return []
    rows = plain_grid(book.table(name).rows)
    return [row[:2] for row in rows if not is_blank(row[0]) and len(row) > 1 and not is_blank(row[1])]


def _cases(book: BookCells) -> Iterator[Values]:
    """Inputs of each case, found where the settings of the case take them from."""
    title = book.formulas(plant_names.VIEW_NAME) if book.place(plant_names.VIEW_NAME) else []
    called = list(dict.fromkeys(CELL.findall(str(title[0][0])))) if title else []
    for number in range(1, plant_names.CASES + 1):
        area = plant_names.case_settings(number)
        if book.place(area) is None:
            continue
        heading = _entered(book, called[number - 1]) if number <= len(called) else None
        given: dict[str, Scalar] = {"name": heading}
        for name, formula, *_ in book.formulas(area):
            key = normalised(str(name))
            if key in CASE_INPUTS:
                source = CELL.search(str(formula or ""))
                given[key] = _entered(book, source.groups()) if source else plain(formula)
        if any(not is_blank(value) for value in given.values()):
            yield {"name": f"case {number}", **{k: v for k, v in given.items() if not is_blank(v)}}


def _entered(book: BookCells, place: tuple[str | Any, ...]) -> Scalar:
    quoted, bare, letters, row = place
    sheet = quoted.replace("''", "'") if quoted else bare
    return plain(book.value(sheet, column_number(letters), int(row)))


def _pccs(book: BookCells, tables: Any) -> tuple[str, ...]:
    buses = [str(row["name"]) for row in tables["buses"]]
    listed = book.table(plant_names.column("buses", "name")).rows
    chosen = []
    for number in range(1, plant_names.PCCS + 1):
        name = f"pcc_{number}"
        if book.place(name) is None:
            continue
        ((formula, *_), *_) = book.formulas(name)
        nth = NTH_BUS.fullmatch(str(formula))
        cell = listed[int(nth[1]) - 1][0] if nth and int(nth[1]) <= len(listed) else None
        bus = cell if nth else book.table(name).rows[0][0]
        if is_blank(bus):
            continue
        if str(bus) not in buses:
            raise InputError(f"{name} of {book.name}", str(bus), one_of(buses, str(bus)))
        chosen.append(str(bus))
    return tuple(dict.fromkeys(chosen))
