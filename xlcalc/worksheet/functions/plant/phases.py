"""The three phases of the PCC and of every bus, one by one."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.core.errors import NoSolutionError
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.verdict.assessed import GIVEN_SUPPLY, Assessment
from xlcalc.studies.verdict.phases import BUS_COLUMNS, COLUMNS, ROWS, bus_phases, phase_table
from xlcalc.worksheet.functions.plant import plant_study, site_study, solved_plants
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

HEADINGS = tuple(name.replace(" pct", " %") for name in COLUMNS)
BUS_HEADINGS = ("bus", "kV", *(name.replace(" pct", " %") for name in BUS_COLUMNS), "remark")
ALIKE = "phases alike"
DIFFERENT = "phases differ"
NOTHING = "-"
NOT_SUPPLIED = "not supplied"

NOTES = (
    "Current in percent of IL, voltage in percent of nominal; limits as in HD_PCC, which judges every order "
    "by its largest phase. The last row has the verdict of each phase on the whole and names the supply: as "
    "given, or the assumed one where the plant passes on the given supply alone. NO VERDICT where the PCC "
    "has none; phases are alike on a balanced supply."
)


def _phases(assessment: Assessment) -> Grid:
    assessment.require_pcc()
    table = phase_table(assessment)
    assert table is not None
    *rows, whole = table.rows
    what = "" if table.supply == GIVEN_SUPPLY else f", {table.supply}"
    alike = "" if table.differ else f", {ALIKE}"
    shown: Grid = [[*row] for row in rows]
    shown.append([f"{whole[0]}{what}{alike}", *whole[1:]])
    return shown


def _site(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return _phases(site_study.assessed(drives, site, settings))


def _plant(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    return _phases(solved_plants.assessment_of(tables, drives, bus, settings))


def _buses(tables: Tables, drives: Sequence[Values], settings: Values) -> Grid:
    solution = solved_plants.solution_of(tables, drives, settings)
    solution.require()
    rows: Grid = [
        _bus(solution, row, settings)
        if row["name"] in solution.network.buses
        else [row["name"], row["kv"], *[NOTHING] * len(BUS_COLUMNS), NOT_SUPPLIED]
        for row in tables["buses"]
    ]
    return rows


def _bus(solution: PlantSolution, row: Values, settings: Values) -> list[Scalar]:
    bus = row["name"]
    try:
        pcc = solution.pcc(pcc_options(bus, 1.0, settings))
    except NoSolutionError as problem:
        return [bus, row["kv"], *[NOTHING] * len(BUS_COLUMNS), str(problem)]
    found = bus_phases(pcc, solution.flow.bus_volts(bus)[:, 0])
    remark = DIFFERENT if found[3] else ALIKE
    return [bus, row["kv"], *(NOTHING if value == "" else value for value in found), remark]


UNBALANCED = '{"unbalance pct",2}'

FUNCTIONS = (
    WorksheetFunction(
        name="HD_PCC_PHASES",
        category=site_study.CATEGORY,
        summary="The three phases of the PCC by order, with limits and a verdict on each",
        gives="rows of orders 1 to 50, a row of totals (TDD, voltage THD) and one of the whole",
        arguments=(
            site_study.DRIVES_ARGUMENT,
            site_study.SITE_ARGUMENT,
            site_study.SETTINGS_ARGUMENT,
        ),
        implementation=_site,
        shape=Shape(ROWS, HEADINGS),
        examples=(
            Example(
                f"=INDEX(HD_PCC_PHASES({site_study.EXAMPLE_DRIVES},{site_study.EXAMPLE_SITE},{UNBALANCED}),5,5)",
                12.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes=NOTES,
    ),
    WorksheetFunction(
        name="HD_PLANT_PHASES",
        category=plant_study.CATEGORY,
        summary="The three phases of any bus as the PCC by order, with limits and a verdict on each",
        gives="rows of orders 1 to 50, a row of totals (TDD, voltage THD) and one of the whole",
        arguments=(
            plant_study.NETWORK_ARGUMENT,
            plant_study.DRIVES_ARGUMENT,
            plant_study.BUS_ARGUMENT,
            plant_study.SETTINGS_ARGUMENT,
        ),
        implementation=_plant,
        shape=Shape(ROWS, HEADINGS),
        examples=(
            Example(
                f'=INDEX(HD_PLANT_PHASES({plant_study.EXAMPLE_NETWORK},{plant_study.EXAMPLE_DRIVES},"U",'
                f"{UNBALANCED}),5,5)",
                12.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes=NOTES,
    ),
    WorksheetFunction(
        name="HD_PLANT_BUS_PHASES",
        category=plant_study.CATEGORY,
        summary="Voltage distortion of each phase at every bus of the plant, and its unbalance",
        gives="one row per bus in the order of the table",
        arguments=(
            plant_study.NETWORK_ARGUMENT,
            plant_study.DRIVES_ARGUMENT,
            plant_study.SETTINGS_ARGUMENT,
        ),
        implementation=_buses,
        shape=Shape(None, BUS_HEADINGS),
        examples=(
            Example(
                f"=INDEX(HD_PLANT_BUS_PHASES({plant_study.EXAMPLE_NETWORK},{plant_study.EXAMPLE_DRIVES}),2,8)",
                ALIKE,
                "a balanced supply",
            ),
        ),
        notes="Percent of nominal, loads as given; unbalance: negative over positive sequence of the "
        "fundamental. HD_PLANT_BUSES judges the largest phase of each order.",
    ),
)
