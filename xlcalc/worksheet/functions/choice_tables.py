"""Options and terms of a choice from the tables of a sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from xlcalc.errors import InputError
from xlcalc.mitigation.economics import Economics
from xlcalc.mitigation.option_table import BRIDGE, FILTER, PASSIVE, RESIDUAL, OptionTable, option_table
from xlcalc.mitigation.sheet import Record, Sheet
from xlcalc.mitigation.terms import CaseTerms, FilterTerms, PinTerms, Terms
from xlcalc.worksheet.functions import choice_fields as fields
from xlcalc.worksheet.functions.choice_problem import LOADS_OFF, scaled_loads

Row = Mapping[str, Any]
Rows = Mapping[str, Sequence[Row]]

KINDS: Final = {
    fields.FRONT_ENDS: BRIDGE,
    fields.PASSIVE_FILTERS: PASSIVE,
    fields.RESIDUALS: RESIDUAL,
    fields.ACTIVE_FILTERS: FILTER,
    fields.BANKS: None,
}
RENAMED: Final = {
    fields.ACTIVE_FILTERS: {"price": "price a", "area m2": "area a"},
    fields.BANKS: {"price": "price a", "area m2": "area a", "reactor pct": "bank reactor pct"},
}
PLACE_KEYS: Final = ("row", "columns")


def options_from(tables: Rows, label: str) -> OptionTable:
    """Options from the checked rows of `choice_fields.OPTIONS`.

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
        _sheet(tables, fields.PRICES, ("option", "kw", "price"), label),
        _sheet(tables, fields.SPECTRA, ("option", "load pct", "order", "percent", "degrees"), label),
    )


def terms_from(tables: Rows, drives: Sequence[Row], label: str) -> Terms:
    """Terms from the checked rows of `choice_fields.TERMS_TABLES`.

    Raises
    ------
    InputError
        More than one row of terms, a case twice, or a pin with both tags and bus or neither.
    """
    if len(tables[fields.TERMS]) > 1:
        second = tables[fields.TERMS][1]
        raise InputError(_place(second, fields.TERMS, label), "a second row", "one row of terms")
    row = tables[fields.TERMS][0]
    pccs = tables[fields.PCCS]
    return Terms(
        name=label,
        economics=Economics(
            row["price per kwh"],
            row["years"],
            row["hours per year"],
            row["discount pct"],
            row["currency"] or "",
        ),
        margin_pct=row["margin pct"],
        pcc=tuple(item["bus"] for item in pccs),
        offer=(),
        raise_other_limits=row["raise other limits"] == "yes",
        rely_on_coupling=row["rely on coupling"] == "yes",
        pins=tuple(_pin(item, label) for item in tables[fields.PINS]),
        filters=tuple(_filter(item, label) for item in tables[fields.PLACES]),
        cases=tuple(_case(item, drives) for item in tables[fields.CASES]),
        margins_pct={item["bus"]: item["margin pct"] for item in pccs if item["margin pct"] is not None},
        capacitor_standard=row["capacitor standard"],
        margin_place=f"margin pct, {_place(row, fields.TERMS, label, 'margin pct')}",
    )


def listed(text: str | None) -> tuple[str, ...]:
    """Names with semicolons between them.

    Examples
    --------
    >>> listed("P-1; P-2 ;"), listed(None)
    (('P-1', 'P-2'), ())
    """
    return tuple(name.strip() for name in (text or "").split(";") if name.strip())


def _pin(row: Row, label: str) -> PinTerms:
    place = _place(row, fields.PINS, label, "options")
    tags, bus = listed(row["drives"]), row["bus"] or ""
    if bool(tags) == bool(bus):
        raise InputError(place, "drives and a bus" if bus else "neither drives nor a bus", "one of both")
    return PinTerms(tags, bus, listed(row["options"]), place)


def _filter(row: Row, label: str) -> FilterTerms:
    place = _place(row, fields.PLACES, label, "offer")
    return FilterTerms(
        row["bus"], listed(row["covers"]), listed(row["offer"]), row["required"] == "yes", place
    )


def _case(row: Row, drives: Sequence[Row]) -> CaseTerms:
    settings = {name: row[name] for name in ("short circuit", "generators", "capacitors", "out of service")}
    off = (LOADS_OFF,) if row["loads"] == "off" else ()
    return CaseTerms(row["case"], {}, settings, off, scaled_loads(drives, row["drive load pct"]))


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
