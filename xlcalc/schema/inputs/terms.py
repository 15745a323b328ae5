"""Tables of the terms of a choice: tariff, margin, PCCs, cases, pins and places."""

from __future__ import annotations

from typing import Final

from xlcalc.equipment.capacitor import capacitor_standards
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.owners import IN_ECONOMICS, IN_PROBLEM
from xlcalc.schema.inputs.quantities import HOURS, MARGIN, RATE, TARIFF, YEARS, YES_NO
from xlcalc.schema.inputs.settings import CASE_FIELDS
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.schema.tables import Records, Section, StackedTables

TERMS, PCCS, CASES, PINS, PLACES = "general terms", "pcc", "cases", "pins", "places"

TERMS_TABLES = StackedTables(
    (
        Section(
            TERMS,
            Records(
                (
                    Field("price per kwh", TARIFF, "Tariff", fills=IN_ECONOMICS("price_per_kwh")),
                    Field("years", YEARS, "Over which losses count", 10.0, fills=IN_ECONOMICS("years")),
                    Field(
                        "hours per year",
                        HOURS,
                        "Of operation",
                        6000.0,
                        fills=IN_ECONOMICS("hours_per_year"),
                    ),
                    Field("discount pct", RATE, "Yearly rate", 0.0, fills=IN_ECONOMICS("discount_pct")),
                    Field("currency", Text(), "Its name", None, fills=IN_ECONOMICS("currency")),
                    Field(
                        "margin pct",
                        MARGIN,
                        "Every value stays below its limit by this",
                        0.0,
                        fills=IN_PROBLEM("margin_pct"),
                    ),
                    Field("raise other limits", YES_NO, "Raise limits where IEEE 519 allows it", "no"),
                    Field("rely on coupling", YES_NO, "The coupled study alone decides", "yes"),
                    Field("keep scheduled", YES_NO, "What is scheduled stays unless it must change", "yes"),
                    Field("equal drives", YES_NO, "Equal drives get the same option", "yes"),
                    Field(
                        "capacitor standard",
                        Choice(capacitor_standards()),
                        "By which banks are judged",
                        "IEEE 18-2002",
                        fills=IN_PROBLEM("capacitor_standard"),
                    ),
                    Field(
                        "gap pct",
                        Number(0, 50, "%"),
                        "Proof gap that is enough",
                        0.5,
                    ),
                    Field(
                        "seconds",
                        Number(1, 600, "s"),
                        "Time for the main search",
                        40.0,
                    ),
                ),
                key="price per kwh",
            ),
            required=True,
        ),
        Section(
            PCCS,
            Records(
                (
                    Field("bus", Text(), "Bus that is judged"),
                    Field(
                        "margin pct",
                        MARGIN,
                        "Margin there; blank: that of the terms",
                        None,
                        fills=IN_PROBLEM("margin_pct"),
                    ),
                ),
                key="bus",
            ),
        ),
        Section(
            CASES,
            Records(
                (
                    Field("case", Text(), "Name of the case"),
                    *(field for field in CASE_FIELDS if field.name != "solution"),
                ),
                key="case",
            ),
        ),
        Section(
            PINS,
            Records(
                (
                    Field("drives", Text(), "Tags with semicolons between them", None),
                    Field("bus", Text(), "Or a bus: all drives on it", None),
                    Field("options", Text(), "What remains, with semicolons; or: as scheduled"),
                ),
                key="",
            ),
        ),
        Section(
            PLACES,
            Records(
                (
                    Field("bus", Text(), "Bus that may get a filter or a bank"),
                    Field("offer", Text(), "Active filters and banks, with semicolons between them"),
                    Field("covers", Text(), "Buses that an active filter measures; blank: its own", None),
                    Field("required", YES_NO, "Must get one of the active filters", "no"),
                ),
                key="bus",
            ),
        ),
    )
)

COLUMNS: Final = {section.title: section.records for section in TERMS_TABLES.sections}
"""Columns of each table by its title."""
