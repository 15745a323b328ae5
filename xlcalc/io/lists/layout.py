"""Where the headings of a schedule are, and which column means what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.io.lists.headings import FIELDS, close_to, list_of_headings, recognise, unknown_unit
from xlcalc.io.lists.numerals import is_blank
from xlcalc.io.lists.rawtable import RawCell, RawTable
from xlcalc.io.lists.units import Unit, find_unit, quantity_of, units_of
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.tables import normalised

SEARCHED_ROWS: Final = 30
FEWEST_KNOWN: Final = 2
TEXT_FIELDS: Final = ("site", "tag", "description")


@dataclass(frozen=True)
class HeadedColumn:
    """A column of the file.

    Parameters
    ----------
    index : int
        Counted from 0.
    heading : str
        As the file has it.
    field : str
        What it means; empty for a column that is carried along only.
    unit : Unit or None
        Of its heading, or of the row of units below it.
    """

    index: int
    heading: str
    field: str = ""
    unit: Unit | None = None


@dataclass(frozen=True)
class Layout:
    """Columns of a schedule and the row, counted from 0, where its drives begin."""

    columns: tuple[HeadedColumn, ...]
    first_row: int

    def of(self, field: str) -> tuple[HeadedColumn, ...]:
        """Columns of a field: none, one, or several ratings in different units."""
        return tuple(column for column in self.columns if column.field == field)

    def heading(self, field: str) -> str:
        """What the file calls a field; its own name where the file has no such column."""
        return " / ".join(column.heading for column in self.of(field)) or field

    @property
    def unused(self) -> tuple[HeadedColumn, ...]:
        """Columns that are carried along only."""
        return self.of("")


def find_layout(table: RawTable) -> Layout | None:
    """Columns of the first row with at least two known headings; None where there is no such row.

    Raises
    ------
    InputError
        A heading is probably misspelt, a required column is missing, or a column is there twice.
    """
    for number, row in enumerate(table.rows[:SEARCHED_ROWS]):
        known = {heading.field for cell in row if (heading := recognise(_text(cell))) is not None}
        if len(known) >= FEWEST_KNOWN:
            units = _row_of_units(table, number + 1, row)
            columns = _columns(row, units or [])
            _check(table.name, columns)
            return Layout(columns, number + (2 if units else 1))
    return None


def _text(cell: RawCell) -> str:
    return cell.strip() if isinstance(cell, str) else ""


def _row_of_units(table: RawTable, number: int, headings: list[RawCell]) -> list[RawCell] | None:
    """The row below the headings, if all its cells are units of their columns."""
    row = table.rows[number] if number < len(table.rows) else []
    said = 0
    for cell, heading in zip(row, headings, strict=False):
        if is_blank(cell):
            continue
        known = recognise(_text(heading))
        word = normalised(_text(cell))
        if not word or (known is not None and find_unit(word, quantity_of(known.field)) is None):
            return None
        said += known is not None
    return row if said else None


def _columns(headings: list[RawCell], units: list[RawCell]) -> tuple[HeadedColumn, ...]:
    columns = []
    for index, cell in enumerate(headings):
        text = _text(cell) if isinstance(cell, str) else "" if cell is None else str(cell)
        known = recognise(text)
        if known is None:
            if text:
                columns.append(HeadedColumn(index, text))
            continue
        below = normalised(_text(units[index])) if index < len(units) else ""
        unit = known.unit or find_unit(below, quantity_of(known.field))
        columns.append(HeadedColumn(index, text, known.field, unit))
    return _first_of_texts(columns)


def _first_of_texts(columns: list[HeadedColumn]) -> tuple[HeadedColumn, ...]:
    """Of several columns that could be the tag, the one whose heading is first in the list; the rest is
    carried along."""
    rank = {text: place for texts in list_of_headings().values() for place, text in enumerate(texts)}
    kept = []
    for column in columns:
        rivals = [c for c in columns if c.field == column.field]
        best = min(rivals, key=lambda c: rank.get(normalised(c.heading.replace(".", " ")), len(rank)))
        demoted = column.field in TEXT_FIELDS and column is not best
        kept.append(HeadedColumn(column.index, column.heading) if demoted else column)
    return tuple(kept)


def _check(name: str, columns: tuple[HeadedColumn, ...]) -> None:
    for column in columns:
        field, unit = (None if column.field else unknown_unit(column.heading)) or ("", "")
        if field and not any(other.field == field for other in columns):
            valid = f"one of {', '.join(units_of(field))}"
            raise InputError(f"unit in heading {column.heading!r} of {name}", repr(unit), valid)
        similar = None if column.field or unit else close_to(column.heading)
        if similar is not None and not _known(column):
            valid = f"the known heading {similar!r}, or a heading that is not so similar to it"
            raise InputError(f"heading in {name}", repr(column.heading), valid)
    for field in FIELDS:
        same = [column for column in columns if column.field == field]
        units = [column.unit.word if column.unit else "" for column in same]
        if len(same) > 1 and not (field == "rating" and all(units) and len(set(units)) == len(units)):
            both = " and ".join(repr(column.heading) for column in same)
            raise InputError(f"column {field} in {name}", both, "one column (ratings: one per unit)")
    for argument in DRIVES.fields:
        if (
            argument.required
            and argument.name != "unit"
            and not any(column.field == argument.name for column in columns)
        ):
            known = ", ".join(list_of_headings()[argument.name][:6])
            raise InputError(
                f"column {argument.name} in {name}", None, f"a column with a heading such as {known}"
            )


def _known(column: HeadedColumn) -> bool:
    """True for a tag-like column that was passed over because a better one is there."""
    return recognise(column.heading) is not None
