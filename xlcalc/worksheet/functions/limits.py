"""Limits of IEEE 519 by edition."""

from __future__ import annotations

from xlcalc.standards import ieee519
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant_fields import EDITIONS
from xlcalc.worksheet.kinds import Number, Whole
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Limits"

ORDER = Argument("order", Whole(2, 50), "Harmonic order")
ISC_IL = Argument(
    "isc_il",
    Number(0, 1e9, above=True),
    "Short-circuit current over maximum demand current at the PCC",
)
KV = Argument(
    "kv", Number(0, ieee519.HIGHEST_KV, "kV", above=True), "Nominal line-to-line voltage of the PCC"
)
EDITION = Argument("edition", EDITIONS, "Edition of IEEE 519", default=ieee519.DEFAULT_EDITION)

GENERATION_NOTE = (
    "Power generation has the first row whatever Isc/IL is: give 1 for isc_il (edition 2022 leaves inverters "
    "to IEEE 1547 or 2800 where generation covers 10 % of the average load or more)."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_LIMIT_TDD",
        category=CATEGORY,
        summary="IEEE 519 limit of the total demand distortion of the current",
        gives="percent of the maximum demand current",
        arguments=(ISC_IL, KV, EDITION),
        implementation=lambda isc_il, kv, edition: ieee519.tdd_limit(isc_il, kv, edition).value,
        examples=(Example("=HD_LIMIT_TDD(60,13.8)", 12.0, "IEEE 519-2022 Table 2 (secondary sources)"),),
        notes=GENERATION_NOTE,
    ),
    WorksheetFunction(
        name="HD_LIMIT_CURRENT",
        category=CATEGORY,
        summary="IEEE 519 limit of one harmonic current, with the even-order rule of the edition",
        gives="percent of the maximum demand current",
        arguments=(ORDER, ISC_IL, KV, EDITION),
        implementation=lambda order, isc_il, kv, edition: (
            ieee519.current_limit(order, isc_il, kv, edition).value
        ),
        examples=(
            Example("=HD_LIMIT_CURRENT(13,60,13.8)", 4.5, "IEEE 519-2022 Table 2 (secondary sources)"),
            Example(
                "=HD_LIMIT_CURRENT(4,15,0.48,2014)",
                1.0,
                "a quarter of 4 %, IEEE 519-2014 (secondary sources)",
            ),
        ),
        notes=GENERATION_NOTE,
    ),
    WorksheetFunction(
        name="HD_LIMIT_VOLTAGE",
        category=CATEGORY,
        summary="IEEE 519 limit of the voltage distortion at the PCC; without an order the limit of the THD",
        gives="percent of the nominal voltage",
        arguments=(
            KV,
            Argument("order", Whole(2, 50), "Harmonic order; left out: THD", default=None),
            EDITION,
        ),
        implementation=lambda kv, order, edition: ieee519.voltage_limit(kv, order, edition).value,
        examples=(
            Example("=HD_LIMIT_VOLTAGE(0.48)", 8.0, "IEEE 519-2022 Table 1 (secondary sources)"),
            Example("=HD_LIMIT_VOLTAGE(13.8,5)", 3.0, "IEEE 519-2022 Table 1 (secondary sources)"),
        ),
    ),
)
