"""What is assumed of drives known by their nameplates, and what each assumption moves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid
from xlcalc.studies.verdict.assessed import Assessment
from xlcalc.worksheet.functions.plant import plant_study, site_study, solved_plants
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

SHAPE: Final = Shape(
    None,
    (
        "what",
        "drives",
        "taken",
        "lowest",
        "highest",
        "unit",
        "moves",
        "% at the lowest",
        "% at the highest",
        "basis",
    ),
)

NOTES: Final = (
    "Of rows that give a reactor or choke in words ('yes', 'unknown', '3 % equivalent') or an input current "
    "(unit A). What moves most comes first; every one alone, the others at what is taken, drives one by one "
    "on their bus. One row that says none where nothing is assumed."
)


def _rows(assessment: Assessment) -> Grid:
    """Rows in the columns of `SHAPE`."""
    spread = assessment.spread
    if spread is None:
        return [["nothing assumed", *[""] * 9]]
    return [
        [
            move.unknown.name,
            ", ".join(move.unknown.tags),
            move.unknown.typical,
            move.unknown.low,
            move.unknown.high,
            move.unknown.unit,
            spread.binding,
            *("no solution" if math.isnan(end) else end for end in (move.at_low, move.at_high)),
            move.unknown.basis,
        ]
        for move in spread.moves
    ]


def _of_site(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return _rows(site_study.assessed(drives, site, settings))


def _of_plant(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    return _rows(solved_plants.assessment_of(tables, drives, bus, settings))


EXAMPLE_SOURCE = "all percent values of the example are given"
GIVES = "one row per assumption, the one that moves the binding quantity most first"

FUNCTIONS = (
    WorksheetFunction(
        name="HD_ASSUMPTIONS",
        category=site_study.CATEGORY,
        summary="What is assumed of drives known by their nameplates, and what each assumption moves",
        gives=GIVES,
        arguments=(site_study.DRIVES_ARGUMENT, site_study.SITE_ARGUMENT, site_study.SETTINGS_ARGUMENT),
        implementation=_of_site,
        shape=SHAPE,
        examples=(
            Example(
                f"=INDEX(HD_ASSUMPTIONS({site_study.EXAMPLE_DRIVES},{site_study.EXAMPLE_SITE}),1,1)",
                "nothing assumed",
                EXAMPLE_SOURCE,
            ),
        ),
        notes=NOTES,
    ),
    WorksheetFunction(
        name="HD_PLANT_ASSUMPTIONS",
        category=plant_study.CATEGORY,
        summary="What is assumed of drives known by their nameplates, and what it moves at a bus",
        gives=GIVES,
        arguments=(
            plant_study.NETWORK_ARGUMENT,
            plant_study.DRIVES_ARGUMENT,
            plant_study.BUS_ARGUMENT,
            plant_study.SETTINGS_ARGUMENT,
        ),
        implementation=_of_plant,
        shape=SHAPE,
        examples=(
            Example(
                f"=INDEX(HD_PLANT_ASSUMPTIONS({plant_study.EXAMPLE_NETWORK},{plant_study.EXAMPLE_DRIVES},"
                '"U"),1,1)',
                "nothing assumed",
                EXAMPLE_SOURCE,
            ),
        ),
        notes=NOTES,
    ),
)
