"""Cells of a schedule to values of its fields; what cannot be read is a problem, never a guess."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence, Set
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.lists.layout import HeadedColumn, Layout
from xlcalc.io.lists.numerals import AmbiguousError, Decimal, Numeral, decimal_of, is_blank, read_numeral
from xlcalc.io.lists.problems import RowError, shown
from xlcalc.io.lists.rawtable import RawCell, RawTable
from xlcalc.io.lists.total_rows import total_rows
from xlcalc.io.lists.units import find_unit, quantity_of
from xlcalc.schema.assembly.drive import INPUT_AMPS, WATTS_PER_UNIT
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.quantities import LOW_VOLTS
from xlcalc.schema.kinds import Number, Whole
from xlcalc.schema.nameplate import COLUMN as NAMEPLATE
from xlcalc.schema.nameplate import NameplatePercent, read_words, with_words, words_text

RATING, UNIT, VOLTS = "rating", "unit", "volts"
NUMBERS = (VOLTS, *(f.name for f in DRIVES.fields if isinstance(f.kind, Number | Whole)))
KINDS = {**{f.name: f.kind for f in DRIVES.fields}, VOLTS: LOW_VOLTS}
WORDED = tuple(f.name for f in DRIVES.fields if isinstance(f.kind, NameplatePercent))
HENRY = ("mh", "h", "uh", "µh")
TWO_RATINGS_AGREE = 0.05
"""Two ratings of one drive, in kW and hp, may differ by this share: both are rounded."""

_BOTH_VOLTAGES: Final = re.compile(r"(?P<line>\d{3})\s*Y?\s*/\s*(?P<phase>\d{3})\s*(V|VAC)?\Z", re.IGNORECASE)

Value = float | str | None


@dataclass
class Converted:
    """Values by field, one entry per row, and what could not be read.

    Parameters
    ----------
    numbers : list of int
        Row of the file of each entry, counted from 1.
    values : mapping of field to list
        None where the cell is blank or could not be read.
    carried : mapping of heading to list
        Columns that mean nothing to the study.
    problems : list of RowError
    remarks : tuple of str
        What was left out because it is no drive.
    """

    numbers: list[int] = field(default_factory=list)
    values: dict[str, list[Value]] = field(default_factory=dict)
    carried: dict[str, list[RawCell]] = field(default_factory=dict)
    problems: list[RowError] = field(default_factory=list)
    remarks: tuple[str, ...] = ()

    def frame(self) -> pd.DataFrame:
        """Values as a table indexed by row number."""
        columns = {
            name: pd.Series(values, dtype=float if name in NUMBERS else object)
            for name, values in self.values.items()
        }
        words = [
            words_text(dict(zip(WORDED, row, strict=True)))
            for row in zip(*(self.values.get(n, [None] * len(self.numbers)) for n in WORDED), strict=True)
        ]
        columns[NAMEPLATE] = pd.Series(words, dtype=object)
        return pd.DataFrame(columns).set_axis(pd.Index(self.numbers, name="row"))


class _BadCellError(Exception):
    """What a cell may be."""


def convert(table: RawTable, layout: Layout, decimal: Decimal | None = None) -> Converted:
    """Values of all rows that are not blank.

    Parameters
    ----------
    table, layout
        The file and where its columns are.
    decimal : Decimal, optional
        The decimal sign; without it, what the numbers of the file show.

    Raises
    ------
    InputError
        The file uses both decimal signs, or no rating has a unit.
    """
    result = Converted()
    rows = []
    headed = {column.index for column in layout.columns}
    width = 1 + max(headed)
    for number, row in enumerate(table.rows[layout.first_row :], start=layout.first_row + 1):
        if all(is_blank(cell) for cell in row):
            continue
        result.numbers.append(number)
        rows.append(row if len(row) >= width else [*row, *[None] * (width - len(row))])
        if len(row) > len(headed):
            _check_width(result, number, row, headed)
    numeric = [c for c in layout.columns if c.field in NUMBERS]
    sign = decimal or decimal_of(
        {cell for column in numeric for row in rows if isinstance(cell := row[column.index], str)}
    )
    for column in layout.columns:
        cells = [row[column.index] for row in rows]
        if not column.field:
            result.carried[column.heading] = cells
        elif column.field == RATING:
            continue
        elif column.field in WORDED:
            said = _mapped(result, column, cells, _worded_reader(column, sign))
            result.values[column.field] = said
        elif column.field in NUMBERS:
            result.values[column.field] = _mapped(result, column, cells, _number_reader(column, sign))
        elif column.field == UNIT:
            result.values[UNIT] = _mapped(result, column, cells, _unit)
        else:
            result.values[column.field] = [_text(cell) for cell in cells]
    _ratings(result, layout, rows, sign)
    return result if table.drives_only else without_totals(result)


def spoken(frame: pd.DataFrame) -> pd.DataFrame:
    """The same with the words of a nameplate in place of their typical numbers."""
    said = frame.pop(NAMEPLATE)
    for number, text in said[said != ""].items():
        for name, value in with_words({NAMEPLATE: text}).items():
            frame[name] = frame[name].astype(object)
            frame.loc[number, name] = value.text
    return frame


def without_totals(read: Converted) -> Converted:
    """The same without rows of totals, which are remarks."""
    totals = total_rows(read.numbers, read.values)
    if not totals:
        return read
    kept = [k for k in range(len(read.numbers)) if k not in totals]
    rows = {read.numbers[k] for k in totals}

    def rest(columns: dict[str, list[Any]]) -> dict[str, list[Any]]:
        return {name: [cells[k] for k in kept] for name, cells in columns.items()}

    return Converted(
        [read.numbers[k] for k in kept],
        rest(read.values),
        rest(read.carried),
        [problem for problem in read.problems if problem.row not in rows],
        (*read.remarks, *totals.values()),
    )


def _check_width(result: Converted, number: int, row: Sequence[RawCell], headed: Set[int]) -> None:
    """Cells without a heading: most often a decimal comma in a file with commas between the cells."""
    for index, cell in enumerate(row):
        if index not in headed and not is_blank(cell):
            column = f"column {index + 1}"
            result.problems.append(RowError(number, column, shown(cell), "blank, as it has no heading"))
            return


def _mapped(
    result: Converted, column: HeadedColumn, cells: list[RawCell], read: Callable[[RawCell], Value]
) -> list[Value]:
    """Each different cell read once."""
    return _each_read_once(result, column, cells, [(cell,) for cell in cells], read)


Key = TypeVar("Key", bound=tuple[Any, ...])
Read = TypeVar("Read")


def _each_read_once(
    result: Converted, column: HeadedColumn, cells: list[RawCell], keys: list[Key], read: Callable[..., Read]
) -> list[Read | None]:
    """What `read` makes of each key, whose first part is the cell; a problem in every row of a bad one."""
    known: dict[tuple[type, Key], Read | None] = {}
    bad: dict[tuple[type, Key], str] = {}
    marked = [(type(key[0]), key) for key in keys]  # TRUE is equal to 1
    for mark in set(marked):
        key = mark[1]
        known[mark] = None
        try:
            known[mark] = None if is_blank(key[0]) else read(*key)
        except _BadCellError as problem:
            bad[mark] = str(problem)
    for number, cell, mark in zip(result.numbers, cells, marked, strict=True) if bad else ():
        if mark in bad:
            result.problems.append(RowError(number, column.heading, shown_raw(cell), bad[mark]))
    return [known[mark] for mark in marked]


def _worded_reader(column: HeadedColumn, sign: Decimal | None) -> Callable[[RawCell], Value]:
    """As `_number_reader`; the words of a nameplate are allowed too."""
    read = _number_reader(column, sign)
    device = column.field.removesuffix(" pct")

    def read_either(cell: RawCell) -> Value:
        said = read_words(shown_raw(cell), device) if isinstance(cell, str | Numeral) else None
        return read(cell) if said is None else said

    return read_either


def _number_reader(column: HeadedColumn, sign: Decimal | None) -> Callable[[RawCell], Value]:
    quantity = quantity_of(column.field)

    def read(cell: RawCell) -> Value:
        numeral = line_voltage(cell) if column.field == VOLTS else None
        numeral = numeral or _numeral(cell, sign)
        unit = find_unit(numeral.unit, quantity) if numeral.unit else column.unit
        if numeral.unit and unit is None:
            if numeral.unit.casefold() in HENRY and quantity == "share":
                raise _BadCellError(
                    f"percent of the rating, which HD_REACTOR_PCT({numeral.value:g}, volts, amps, hz) gives"
                )
            wanted = f"in {column.unit.word}" if column.unit else f"with a unit of {quantity or column.field}"
            raise _BadCellError(f"a number {wanted}, as the heading says")
        if unit is None and quantity == "share" and 0.0 < numeral.value <= 1.0:
            raise _BadCellError("a number in percent; up to 1 only with % in the heading or the cell")
        value = numeral.value * unit.factor if unit else numeral.value
        told = "" if numeral.unit else slip_of(column.field, value)
        if told:
            raise _BadCellError(told)
        return value

    return read


def line_voltage(cell: RawCell) -> Numeral | None:
    """The line-to-line voltage of a notation of both voltages of a system; None for any other cell.

    Examples
    --------
    >>> line_voltage("480Y/277 V"), line_voltage("400/230"), line_voltage("480Y/208"), line_voltage("480")
    (Numeral(value=480.0, unit='V'), Numeral(value=400.0, unit='V'), None, None)
    """
    match = _BOTH_VOLTAGES.match(cell.strip()) if isinstance(cell, str) else None
    if match is None:
        return None
    line, phase = float(match["line"]), float(match["phase"])
    return Numeral(line, "V") if math.isclose(line, math.sqrt(3.0) * phase, rel_tol=0.03) else None


def slip_of(field: str, value: float) -> str:
    """What was probably meant by an unusual value of a field; empty for a usual one."""
    kind = KINDS[field]
    return kind.slip(value) if isinstance(kind, Number) else ""


def _numeral(cell: RawCell, sign: Decimal | None) -> Numeral:
    if isinstance(cell, Numeral):
        return cell
    if isinstance(cell, float | int) and not isinstance(cell, bool):
        return Numeral(float(cell))
    try:
        numeral = read_numeral(cell, sign) if isinstance(cell, str) else None
    except AmbiguousError:
        raise _BadCellError(
            "a number that does not depend on the decimal sign, or --decimal point or comma"
        ) from None
    if numeral is None:
        raise _BadCellError("a number")
    return numeral


def _unit(cell: RawCell) -> Value:
    unit = find_unit(shown_raw(cell), "power")
    if unit is None or unit.factor != 1.0:
        raise _BadCellError("kW, hp or A")
    return unit.written


def _text(cell: RawCell) -> Value:
    text = cell if isinstance(cell, str) else shown_raw(cell)
    return text.strip() or None


def shown_raw(cell: RawCell) -> str:
    """A raw cell as people see it."""
    if isinstance(cell, Numeral):
        return f"{cell.value:.15g} {cell.unit}".strip()
    return shown(cell)


def _ratings(result: Converted, layout: Layout, rows: list[list[RawCell]], sign: Decimal | None) -> None:
    """Rating and its unit from one column, or from one column per unit."""
    columns = layout.of(RATING)
    if not (layout.of(UNIT) or any(column.unit or _with_unit(column, rows) for column in columns)):
        valid = "kW or hp in the heading, in a column unit or in the cells"
        raise InputError("unit of the rating", None, valid)
    units = result.values.get(UNIT, [None] * len(rows))
    readings = [_mapped_ratings(result, c, [row[c.index] for row in rows], units, sign) for c in columns]
    rated: list[Value] = []
    written: list[Value] = []
    for number, given in zip(result.numbers, zip(*readings, strict=True), strict=True):
        found = [reading for reading in given if reading is not None]
        if len(found) > 1 and not _agree(found):
            text = " and ".join(f"{value:.15g} {unit}" for value, unit in found)
            heading = " / ".join(column.heading for column in columns)
            result.problems.append(RowError(number, heading, text, "the same rating in both units"))
            found = []
        found.sort(key=lambda reading: reading[1] == INPUT_AMPS)
        rated.append(found[0][0] if found else None)
        written.append(found[0][1] if found else None)
    result.values[RATING], result.values[UNIT] = rated, written


def _with_unit(column: HeadedColumn, rows: list[list[RawCell]]) -> bool:
    texts = (shown_raw(row[column.index]) for row in rows)
    return any(find_unit(text.lstrip("0123456789.,+-/ "), "power") for text in texts)


Reading = tuple[float, str | None]


def _mapped_ratings(
    result: Converted,
    column: HeadedColumn,
    cells: list[RawCell],
    units: Sequence[Value],
    sign: Decimal | None,
) -> list[Reading | None]:
    def read(cell: RawCell, beside: Value) -> Reading:
        return _rating(column, cell, beside, sign)

    return _each_read_once(result, column, cells, list(zip(cells, units, strict=True)), read)


def _rating(column: HeadedColumn, cell: RawCell, beside: Value, sign: Decimal | None) -> Reading:
    numeral = _numeral(cell, sign)
    unit = find_unit(numeral.unit, "power") if numeral.unit else None
    if numeral.unit and unit is None:
        raise _BadCellError("a number with kW, hp or A")
    named = {u for u in (unit, column.unit, find_unit(str(beside or ""), "power")) if u is not None}
    if len({(u.written, u.factor) for u in named}) > 1:
        raise _BadCellError("one unit: cell, heading and unit column name different ones")
    if not named:
        raise _BadCellError("a rating with its unit: kW, hp or A")
    (first, *_) = named
    value = numeral.value * first.factor
    told = "" if numeral.unit or value <= 0.0 else slip_of(RATING, value)
    if told:
        raise _BadCellError(told)
    return value, first.written


def _agree(readings: list[Reading]) -> bool:
    watts = [value * WATTS_PER_UNIT[unit or "kW"] for value, unit in readings if unit != INPUT_AMPS]
    if len(watts) < 2:
        return True
    return math.isfinite(max(watts)) and max(watts) - min(watts) <= TWO_RATINGS_AGREE * max(watts)
