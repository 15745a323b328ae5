"""From the shaft rating of a drive to the power of its DC link, the base of all its percent values."""

from __future__ import annotations

from xlcalc.equipment.motor_efficiency import BASIS
from xlcalc.schema.assembly.drive import efficiency_pct, link_watts
from xlcalc.schema.inputs.drive import EFFICIENCY_DOC
from xlcalc.schema.inputs.quantities import EFFICIENCY_PCT, RATING, UNIT
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.registry import Example, WorksheetFunction

CATEGORY = "Plant and PCC"

FUNCTIONS = (
    WorksheetFunction(
        name="HD_LINK_KW",
        category=CATEGORY,
        summary="Rated DC-link power of a drive from its shaft rating",
        gives="kW",
        arguments=(
            Argument("rating", RATING, "Rated shaft output"),
            Argument("shaft_unit", UNIT, "Unit of the rating"),
            Argument("efficiency_pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
        ),
        implementation=lambda rating, unit, efficiency: link_watts(rating, unit, efficiency) / 1e3,
        examples=(
            Example('=HD_LINK_KW(100,"hp",95)', 78.4947, "100 x 0.745699872 / 0.95, by hand"),
            Example(
                '=HD_LINK_KW(75,"kW")',
                82.2549,
                "75 / (0.940 x 0.97): IE2, 4-pole, 75 kW of IEC 60034-30-1 and 3 % drive losses, by hand",
            ),
        ),
        notes=f"Without an efficiency: {BASIS}.",
    ),
    WorksheetFunction(
        name="HD_TYPICAL_EFFICIENCY_PCT",
        category=CATEGORY,
        summary="Efficiency from DC link to shaft that stands for one that was not given",
        gives="percent",
        arguments=(
            Argument("rating", RATING, "Rated shaft output"),
            Argument("shaft_unit", UNIT, "Unit of the rating"),
        ),
        implementation=efficiency_pct,
        examples=(Example('=HD_TYPICAL_EFFICIENCY_PCT(75,"kW")', 91.18, "94.0 % x 0.97, by hand"),),
        notes=f"{BASIS}; interpolated over the logarithm of the rating.",
    ),
)
