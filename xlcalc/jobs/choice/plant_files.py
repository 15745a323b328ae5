"""A choice for a plant given as a network: from a workbook of the template, or from files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from openpyxl.utils import get_column_letter

from xlcalc.core.errors import InputError
from xlcalc.io.lists.files import WORKBOOK_SUFFIXES
from xlcalc.io.lists.rawtable import plain, plain_grid
from xlcalc.io.lists.xlsx_table import BookCells, read_named_ranges, read_xlsx_tables
from xlcalc.io.lists.xlsx_table import read_drives as read_drive_table
from xlcalc.io.plants.plant_file import ONLY_CASE, PlantSite
from xlcalc.mitigation.milp.search import Effort
from xlcalc.mitigation.offer.banks import OptionTable
from xlcalc.mitigation.problem import Problem
from xlcalc.mitigation.terms import CaseTerms, Terms
from xlcalc.schema.assembly.choice import plant_problem, with_loads
from xlcalc.schema.assembly.common_bus import on_common_bus
from xlcalc.schema.assembly.options import options_of_sheet
from xlcalc.schema.assembly.terms import terms_from
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.options import OPTIONS
from xlcalc.schema.inputs.settings import CASE_FIELDS, NETWORK_SETTINGS
from xlcalc.schema.inputs.terms import TERMS, TERMS_TABLES
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import normalised
from xlcalc.schema.values import Grid, Scalar

RANGES: Final = {
    "network": "Network",
    "choice_options": "Options",
    "choice_terms": "Terms",
    "study_settings": "Study",
}
DRIVES_SHEET: Final = "Drives"


@dataclass(frozen=True)
class PlantFiles:
    """A plant with checked values, as the plant functions take them."""

    tables: Mapping[str, Any]
    drives: Sequence[Mapping[str, Any]]
    settings: Mapping[str, Any]
    cases: tuple[CaseTerms, ...] = ()

    def problem(self, options: OptionTable, terms: Terms) -> Problem:
        """The problem; terms without cases take those of the plant."""
        cases = (
            tuple(
                with_loads(_converted(case, terms.name), self.settings, self.drives) for case in terms.cases
            )
            or self.cases
        )
        return plant_problem(self.tables, self.drives, self.settings, options, replace(terms, cases=cases))


@dataclass(frozen=True)
class BookQuestion:
    """The question of a choice, read from a workbook."""

    problem: Problem
    terms: Terms
    effort: Effort
    coupled: bool
    plant: PlantFiles
    options: OptionTable


def is_choice_book(path: Path) -> bool:
    """Whether a file is a workbook with the ranges of the template of a choice."""
    if path.suffix.lower() not in WORKBOOK_SUFFIXES:
        return False
    return BookCells(path).place("choice_terms") is not None


def read_choice_book(path: Path) -> BookQuestion:
    """Plant, options and terms of one workbook.

    Raises
    ------
    InputError
        A range or sheet is missing, or a cell is wrong; the message names sheet and cell.
    WorkbookFileError
        The file is not a valid workbook.
    """
    stacks = (NETWORK, OPTIONS, TERMS_TABLES)
    found = read_named_ranges(path, list(RANGES), {part.title for stack in stacks for part in stack.sections})
    for name, sheet in RANGES.items():
        if name not in found:
            raise InputError(f"range {name} of {path.name}", None, f"the tables of the sheet {sheet}")
    grids = {name: plain_grid(found[name].rows) for name in RANGES}
    tables: Any = NETWORK.convert(grids["network"], "sheet Network")
    settings = NETWORK_SETTINGS.convert(_named(grids["study_settings"]), "sheet Study")
    drives = on_common_bus(_drives(path), tables)
    bought: Any = OPTIONS.convert(grids["choice_options"], "sheet Options")
    wanted: Any = TERMS_TABLES.convert(grids["choice_terms"], "sheet Terms")
    options = options_of_sheet(bought, "sheet Options")
    terms = terms_from(wanted, drives, "sheet Terms")
    plant = PlantFiles(tables, drives, settings)
    general = wanted[TERMS][0]
    return BookQuestion(
        problem=plant_problem(tables, drives, settings, options, terms),
        terms=terms,
        effort=Effort(general["gap pct"], general["seconds"]),
        coupled=settings["solution"] == "coupled",
        plant=plant,
        options=options,
    )


def with_drives(plant: PlantSite, drives: Sequence[Mapping[str, Any]]) -> PlantFiles:
    """A plant with the checked rows of a schedule."""
    drives = on_common_bus(drives, plant.tables)
    cases = {} if plant.cases.get(ONLY_CASE) is plant.settings else plant.cases
    fields = [field.name for field in CASE_FIELDS]
    own = (CaseTerms(name, settings={f: case[f] for f in fields}) for name, case in cases.items())
    made = tuple(with_loads(case, plant.settings, drives) for case in own)
    return PlantFiles(plant.tables, drives, plant.settings, made)


def _converted(case: CaseTerms, name: str) -> CaseTerms:
    """The case with checked settings."""
    if case.site:
        raise InputError(f"site of case {case.name} of {name}", ", ".join(case.site), "settings")
    fields = {normalised(field.name): field for field in CASE_FIELDS}
    changed = {}
    for key, value in case.settings.items():
        if normalised(key) not in fields:
            raise InputError(f"name in case {case.name} of {name}", key, one_of(list(fields), key))
        field = fields[normalised(key)]
        changed[field.name] = field.convert(_scalar(value), f"{field.name} in case {case.name} of {name}")
    return replace(case, settings=changed)


def _drives(path: Path) -> Sequence[Mapping[str, Any]]:
    """Rows of the sheet Drives; columns that are no input are passed over."""
    table = read_drive_table(path) or read_xlsx_tables(path, DRIVES_SHEET)[0]
    known = {normalised(field.name) for field in PLANT_DRIVES.fields}
    for number, row in enumerate(table.rows, start=1):
        headings = [normalised(str(cell)) if cell is not None else "" for cell in row]
        if "tag" in headings and "rating" in headings:
            kept = [k for k, heading in enumerate(headings) if heading in known]
            grid = [
                [plain(line[k]) if k < len(line) else None for k in kept] for line in table.rows[number - 1 :]
            ]
            letters = tuple(get_column_letter(k + 1) for k in kept)
            return PLANT_DRIVES.records(grid, f"sheet {DRIVES_SHEET}", number, letters)
    raise InputError(
        f"sheet {DRIVES_SHEET} of {path.name}", "without headings", "tag, rating, pulses and others"
    )


def _named(grid: Grid) -> Grid:
    return [row[:2] for row in grid]


def _scalar(value: object) -> Scalar:
    if value is not None and not isinstance(value, str | int | float | bool):
        raise InputError("a value", str(value), "a number or a text", wrong_kind=True)
    return value
