"""Options from checked rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from xlcalc.mitigation.option_table import BRIDGE, FILTER, PASSIVE, RESIDUAL, OptionTable, option_table
from xlcalc.mitigation.sheet import Record, Sheet
from xlcalc.schema.inputs.options import (
    ACTIVE_FILTERS,
    BANKS,
    FRONT_ENDS,
    PASSIVE_FILTERS,
    PRICES,
    RESIDUALS,
    SPECTRA,
)

Row = Mapping[str, Any]


Rows = Mapping[str, Sequence[Row]]


KINDS: Final = {
    FRONT_ENDS: BRIDGE,
    PASSIVE_FILTERS: PASSIVE,
    RESIDUALS: RESIDUAL,
    ACTIVE_FILTERS: FILTER,
    BANKS: None,
}


RENAMED: Final = {
    ACTIVE_FILTERS: {"price": "price a", "area m2": "area a"},
    BANKS: {"price": "price a", "area m2": "area a", "reactor pct": "bank reactor pct"},
}


PLACE_KEYS: Final = ("row", "columns")


def options_from(tables: Rows, label: str) -> OptionTable:
    """Options from the checked rows of `schema.inputs.options.OPTIONS`.

    Parameters
    ----------
    tables : mapping
        Rows by title.
    label : str
        What the tables stand on, for messages.

    Raises
    ------
    InputError
        As `option_table`.
    """
    records = []
    for title, kind in KINDS.items():
        for row in tables[title]:
            record = _record(row, title, label)
            given = record.cells if kind is None else {**record.cells, "kind": kind}
            records.append(Record(record.place, given, record.places))
    headings = tuple(dict.fromkeys(("option", "kind", *(key for r in records for key in r.cells))))
    return option_table(
        Sheet(label, headings, tuple(records)),
        _sheet(tables, PRICES, ("option", "kw", "price"), label),
        _sheet(tables, SPECTRA, ("option", "load pct", "order", "percent", "degrees"), label),
    )


def _sheet(tables: Rows, title: str, headings: tuple[str, ...], label: str) -> Sheet | None:
    records = tuple(_record(row, title, label) for row in tables[title])
    return Sheet(f"table {title} of {label}", headings, records) if records else None


def _record(row: Row, title: str, label: str) -> Record:
    renamed = RENAMED.get(title, {})
    cells = {
        renamed.get(name, name): value
        for name, value in row.items()
        if name not in PLACE_KEYS and value is not None
    }
    places = {
        renamed.get(name, name): _place(row, title, label, name) for name in row if name not in PLACE_KEYS
    }
    return Record(_place(row, title, label), cells, places)


def _place(row: Row, title: str, label: str, column: str = "") -> str:
    letter = row.get("columns", {}).get(column)
    where = f"cell {letter}{row['row']}" if letter else f"row {row['row']}"
    return f"{where} of table {title} of {label}"
