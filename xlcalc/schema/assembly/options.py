"""What can be bought, from checked rows of its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeVar

from xlcalc.core import plausible
from xlcalc.core.errors import InputError
from xlcalc.mitigation.offer.banks import BankOption, OptionTable
from xlcalc.mitigation.offer.curves import CostFormula, Curve, Points
from xlcalc.mitigation.offer.drive_options import ActiveFilter, DriveOption
from xlcalc.mitigation.offer.economics import Losses
from xlcalc.mitigation.offer.physics import DiodeFrontEnd, Physics, Residual, ResidualLine
from xlcalc.network.capacitors import CapacitorBank, TunedFilter
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.passive_filter import FilterRating
from xlcalc.schema.fields import Field, attributes
from xlcalc.schema.inputs.drive import FILTER_FIELDS
from xlcalc.schema.inputs.network import RATED_CAPACITORS
from xlcalc.schema.inputs.options import (
    ACTIVE_FILTERS,
    BANKS,
    BRIDGE,
    BY_RATING,
    COLUMNS,
    FRONT_ENDS,
    PASSIVE_FILTERS,
    PRICES,
    RESIDUALS,
    SPECTRA,
)
from xlcalc.schema.tables import Tables, Values

T = TypeVar("T")


@dataclass(frozen=True)
class OptionRow:
    """A row of a table of options.

    Parameters
    ----------
    values : mapping of str to value
        Checked, by the names of the fields; None where a cell is blank and nothing stands for it.
    place : str
        Where it stands, such as "row 7 of options.csv".
    cells : mapping of str to str
        What its cells are called in messages, such as "cell C7 of sheet Options", by name.
    """

    values: Values
    place: str
    cells: Mapping[str, str]

    def __getitem__(self, name: str) -> Any:
        return self.values.get(name)

    def where(self, name: str) -> str:
        """The cell of a name, for messages."""
        cell = self.cells.get(name)
        return f"{name} ({cell})" if cell else f"{name}, {self.place}"

    def filled(self, fields: Iterable[Field], owner: type) -> dict[str, Any]:
        """Attributes of a dataclass from the fields that have a value."""
        values = {field.name: self[field.name] for field in fields}
        return {name: v for name, v in attributes(fields, values, owner).items() if v is not None}


Rows = Mapping[str, Sequence[OptionRow]]


def options_of_sheet(tables: Tables, label: str) -> OptionTable:
    """Options from the checked tables of `schema.inputs.options.OPTIONS`.

    Parameters
    ----------
    tables : mapping
        Rows by title, with the row and the letters of the columns where they stand.
    label : str
        What the tables stand on, for messages.

    Raises
    ------
    InputError
        As `options_of`.
    """
    rows = {title: [_row(row, title, label) for row in tables[title]] for title in COLUMNS}
    return options_of(rows, label)


def options_of(rows: Rows, label: str) -> OptionTable:
    """Options from checked rows by the title of their table.

    Raises
    ------
    InputError
        Values contradict each other, an option is there twice or has no price or spectrum, or a price or
        spectrum is that of no option; the message names the cell.
    """
    prices, spectra = _by_option(rows.get(PRICES, ())), _by_option(rows.get(SPECTRA, ()))
    seen: set[str] = set()
    for title in (FRONT_ENDS, PASSIVE_FILTERS, RESIDUALS, ACTIVE_FILTERS, BANKS):
        for row in rows.get(title, ()):
            if row["option"] in seen:
                raise InputError(row.where("option"), row["option"], "each option once")
            seen.add(row["option"])
    for used in (prices, spectra):
        stranger = next((lines[0] for name, lines in used.items() if name not in seen), None)
        if stranger is not None:
            raise InputError(stranger.where("option"), stranger["option"], f"an option of {label}")
    drive_options = []
    for title in (FRONT_ENDS, PASSIVE_FILTERS, RESIDUALS):
        for row in rows.get(title, ()):
            physics = _residual(row, spectra) if title == RESIDUALS else _bridge(row, title)
            drive_options.append(_drive_option(row, physics, prices.get(row["option"], ())))
    return OptionTable(
        tuple(drive_options),
        tuple(_active_filter(row, spectra) for row in rows.get(ACTIVE_FILTERS, ())),
        tuple(_bank(row) for row in rows.get(BANKS, ())),
    )


def row_place(row: Mapping[str, Any], title: str, label: str, column: str = "") -> str:
    """Where a row of a stacked table stands, or its cell of a column."""
    letter = row.get("columns", {}).get(column)
    where = f"cell {letter}{row['row']}" if letter else f"row {row['row']}"
    return f"{where} of table {title} of {label}"


def _row(row: Mapping[str, Any], title: str, label: str) -> OptionRow:
    values = {name: value for name, value in row.items() if name not in ("row", "columns")}
    return OptionRow(
        values, row_place(row, title, label), {name: row_place(row, title, label, name) for name in values}
    )


def _by_option(rows: Sequence[OptionRow]) -> dict[str, list[OptionRow]]:
    found: dict[str, list[OptionRow]] = {}
    for row in rows:
        found.setdefault(row["option"], []).append(row)
    return found


def _drive_option(row: OptionRow, physics: Physics, points: Sequence[OptionRow]) -> DriveOption:
    ratings = row.filled(BY_RATING, DriveOption)
    price = _price(row, points, ratings)
    if isinstance(price, Points):
        ratings = {"min_kw": price.low_kw, "max_kw": price.high_kw, **ratings}
    low, high = ratings.get("min_kw"), ratings.get("max_kw")
    if low is not None and high is not None and high < low:
        raise InputError(row.where("max kw"), high, f"{low:g} kW or more, the lowest rating")
    losses = Losses(**row.filled(BY_RATING, Losses))
    return _named(
        row,
        "min kw",
        lambda: DriveOption(
            name=row["option"],
            physics=physics,
            price=price,
            losses=losses,
            footprint=_formula(row, "area"),
            remark=row["remark"] or "",
            place=row.where("option"),
            **ratings,
        ),
    )


def _formula(row: OptionRow, what: str) -> CostFormula:
    return CostFormula(row[f"{what} a"] or 0.0, row[f"{what} b"] or 0.0, row[f"{what} c"])


def _price(row: OptionRow, points: Sequence[OptionRow], ratings: Mapping[str, float]) -> Curve:
    given = next((name for name in ("price a", "price b") if row[name] is not None), None)
    if not points:
        if given is None:
            valid = f"a price for {row['option']}: a formula here, or points in the table of prices"
            raise InputError(row.where("price a"), None, valid)
        return _formula(row, "price")
    if given is not None:
        raise InputError(row.where(given), row[given], "blank, because points are given")
    curve = _named(points[0], "kw", lambda: Points(tuple((line["kw"], line["price"]) for line in points)))
    if ratings:
        lowest, highest = ratings.get("min_kw", curve.low_kw), ratings.get("max_kw", curve.high_kw)
        gap = curve.gap(lowest, highest)
        if gap:
            raise InputError(
                f"price of {row['option']} ({points[0].place} and on)",
                f"missing {gap}",
                f"points from {lowest:g} to {highest:g} kW, the ratings of {row.place}",
                wrong_kind=True,
            )
    return curve


def _bridge(row: OptionRow, title: str) -> DiodeFrontEnd:
    passive = None
    if title == PASSIVE_FILTERS:
        passive = _named(
            row,
            "filter capacitor pct",
            lambda: FilterRating(**row.filled(FILTER_FIELDS, FilterRating)),
        )
    own = row.filled((*BRIDGE, *COLUMNS[FRONT_ENDS].fields), FrontEnd)
    return _named(row, "pulses", lambda: DiodeFrontEnd(**own, filter=passive))


def _bank(row: OptionRow) -> BankOption:
    tuning = row.filled(RATED_CAPACITORS, TunedFilter)
    return _named(
        row,
        "kvar",
        lambda: BankOption(
            name=row["option"],
            kind=row["kind"],
            **row.filled(RATED_CAPACITORS, CapacitorBank),
            **tuning,
            **_bought(row),
        ),
    )


def _bought(row: OptionRow) -> dict[str, Any]:
    """Price, losses and floor area of what has one size."""
    return {
        "price": row["price"],
        "loss_watts": 1e3 * row["loss kw"],
        "footprint_m2": row["area m2"],
        "remark": row["remark"] or "",
    }


def _residual(row: OptionRow, spectra: Mapping[str, Sequence[OptionRow]]) -> Residual:
    for line in _spectrum(row, spectra):
        if line["load pct"] is None:
            raise InputError(line.where("load pct"), None, "a number, because it is no active filter")
    columns = COLUMNS[SPECTRA].fields
    lines = tuple(ResidualLine(**line.filled(columns, ResidualLine)) for line in _spectrum(row, spectra))
    return _named(
        row,
        "basis",
        lambda: Residual(lines, row["percent of"], row["basis"], row["orders not listed"]),
    )


def _active_filter(row: OptionRow, spectra: Mapping[str, Sequence[OptionRow]]) -> ActiveFilter:
    left = tuple((line["order"], line["percent"]) for line in _spectrum(row, spectra))
    return _named(
        row,
        "rated amps",
        lambda: ActiveFilter(
            name=row["option"],
            rated_amps=row["rated amps"],
            left=left,
            basis=row["basis"],
            **_bought(row),
        ),
    )


def _spectrum(row: OptionRow, spectra: Mapping[str, Sequence[OptionRow]]) -> Sequence[OptionRow]:
    if row["option"] not in spectra:
        valid = "an option with rows in the table of residual spectra"
        raise InputError(row.where("option"), row["option"], valid)
    largest = max(spectra[row["option"]], key=lambda line: float(line["percent"]))
    if told := plausible.slip(largest["percent"], "%", plausible.SPECTRUM_PCT):
        raise InputError(largest.where("percent"), largest["percent"], f"the largest order {told}")
    return spectra[row["option"]]


def _named(row: OptionRow, name: str, make: Callable[[], T]) -> T:
    """What `make` gives; its refusals name the row."""
    try:
        return make()
    except InputError as problem:
        if row.place in problem.argument or any(cell in problem.argument for cell in row.cells.values()):
            raise
        raise problem.renamed(f"{problem.argument}, {row.where(name)}") from None


FLAT_NAMES: Final = {
    ACTIVE_FILTERS: {"price": "price a", "area m2": "area a"},
    BANKS: {"price": "price a", "area m2": "area a", "reactor pct": "bank reactor pct"},
}
"""Headings that fields have where all kinds of options stand in one table."""


def flat_columns(title: str) -> dict[str, Field]:
    """Fields of one kind of option by the heading that they have in a table of all kinds."""
    names = FLAT_NAMES.get(title, {})
    fields = {names.get(field.name, field.name): field for field in COLUMNS[title].fields}
    return {**fields, "pulses": BRIDGE[0]} if title == PASSIVE_FILTERS else fields
