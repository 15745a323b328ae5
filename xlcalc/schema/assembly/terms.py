"""Terms of a choice from checked rows."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.core.errors import InputError
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.mitigation.terms import CaseTerms, FilterTerms, PinTerms, Terms
from xlcalc.schema.assembly.choice import with_loads
from xlcalc.schema.assembly.options import row_place
from xlcalc.schema.inputs.settings import CASE_FIELDS
from xlcalc.schema.inputs.terms import CASES, PCCS, PINS, PLACES, TERMS
from xlcalc.schema.tables import Tables, Values


def terms_from(tables: Tables, drives: Sequence[Values], label: str) -> Terms:
    """Terms from the checked rows of `schema.inputs.terms.TERMS_TABLES`.

    Raises
    ------
    InputError
        More than one row of terms, a case twice, or a pin with both tags and bus or neither.
    """
    if len(tables[TERMS]) > 1:
        second = tables[TERMS][1]
        raise InputError(row_place(second, TERMS, label), "a second row", "one row of terms")
    row = tables[TERMS][0]
    pccs = tables[PCCS]
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
        keep_scheduled=row["keep scheduled"] == "yes",
        equal_drives=row["equal drives"] == "yes",
        pins=tuple(_pin(item, label) for item in tables[PINS]),
        filters=tuple(_filter(item, label) for item in tables[PLACES]),
        cases=tuple(_case(item, drives) for item in tables[CASES]),
        margins_pct={item["bus"]: item["margin pct"] for item in pccs if item["margin pct"] is not None},
        capacitor_standard=row["capacitor standard"],
        margin_place=f"margin pct, {row_place(row, TERMS, label, 'margin pct')}",
    )


def listed(text: str | None) -> tuple[str, ...]:
    """Names with semicolons between them.

    Examples
    --------
    >>> listed("P-1; P-2 ;"), listed(None)
    (('P-1', 'P-2'), ())
    """
    return tuple(name.strip() for name in (text or "").split(";") if name.strip())


def _pin(row: Values, label: str) -> PinTerms:
    place = row_place(row, PINS, label, "options")
    tags, bus = listed(row["drives"]), row["bus"] or ""
    if bool(tags) == bool(bus):
        raise InputError(place, "drives and a bus" if bus else "neither drives nor a bus", "one of both")
    return PinTerms(tags, bus, listed(row["options"]), place)


def _filter(row: Values, label: str) -> FilterTerms:
    place = row_place(row, PLACES, label, "offer")
    return FilterTerms(
        row["bus"], listed(row["covers"]), listed(row["offer"]), row["required"] == "yes", place
    )


def _case(row: Values, drives: Sequence[Values]) -> CaseTerms:
    settings = {field.name: row[field.name] for field in CASE_FIELDS if field.name != "solution"}
    return with_loads(CaseTerms(row["case"], settings=settings), {}, drives)
