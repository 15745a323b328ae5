"""The plant as a nodal network: every bus, any bus as the PCC, impedance, resonances, element currents."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from types import MappingProxyType

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.network import network_of, plant_of
from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.standards import ieee519
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.sources import Summation
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.assumed import assumed
from xlcalc.worksheet.functions.plant import solved_plants
from xlcalc.worksheet.functions.plant.assessments import solver
from xlcalc.worksheet.functions.plant.pcc_values import (
    ASSESSMENT_QUANTITIES,
    ASSUMED,
    BARE_QUANTITIES,
    CONTRIBUTION_NOTES,
    CONTRIBUTION_SHAPE,
    PCC_SHAPE,
    QUANTITY_NOTES,
    assessment_quantity,
    bare_quantity,
    contribution_rows,
    pcc_rows,
)
from xlcalc.worksheet.functions.plant.site_study import alone_remark, drive_figures
from xlcalc.worksheet.no_verdict import no_verdict
from xlcalc.worksheet.ranges import spectrum_rows
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Plant as a network"
CONVERGED, ITERATIONS, SC_MVA, VOLTS_PCT = "CONVERGED", "ITERATIONS", "SC_MVA", "VOLTS_PCT"

QUANTITIES = Choice(
    (*ASSESSMENT_QUANTITIES, *BARE_QUANTITIES, ASSUMED, SC_MVA, VOLTS_PCT, CONVERGED, ITERATIONS),
    f"a quantity of HD_PCC_VALUE, or {SC_MVA}, {VOLTS_PCT}, {CONVERGED}, {ITERATIONS}",
)

NOTHING: Grid = [[float(order), 0.0, 0.0] for order in range(1, 51)]

BUS_COLUMNS = (
    "bus",
    "kV",
    "fundamental %",
    "voltage THD %",
    "limit %",
    "margin points",
    "order with the smallest margin",
    "its voltage %",
    "its limit %",
    "fault level of the supply MVA",
    "verdict",
)

DRIVE_COLUMNS = ("tag", "source %", "THD %", "5th %", "fundamental A", "rms A", "remark")

RESONANCE_COLUMNS = (
    "kind",
    "order",
    "ohm",
    "amplification",
    "nearest characteristic order",
    "distance %",
)


def _bus_rows(tables: Tables, drives: Sequence[Values], settings: Values) -> Grid:
    solutions = solved_plants.load_end_solutions(tables, drives, settings)
    for solution in solutions:
        solution.require()
    rows: Grid = []
    for row in tables["buses"]:
        if row["name"] in solutions[0].network.buses:
            ends = [_bus_row(solution, row, settings) for solution in solutions]
            rows.append(max(ends, key=lambda end: end[0])[1])
        else:
            rows.append([row["name"], row["kv"], *[""] * (len(BUS_COLUMNS) - 3), "not supplied"])
    return rows


def _bus_row(solution: PlantSolution, row: Values, settings: Values) -> tuple[float, list[Scalar]]:
    """Largest value over its limit, and the row."""
    bus, edition = row["name"], settings["edition"]
    pcc = solution.pcc(pcc_options(bus, 1.0, settings))
    limit = ieee519.voltage_limit(pcc.kv, edition=edition).value
    by_order = [ieee519.voltage_limit(pcc.kv, h, edition).value for h in range(2, 51)]
    share = pcc.voltage_pct[1:] / np.array(by_order)
    worst = int(np.argmax(share))
    largest = max(pcc.thdv_pct / limit, float(share.max()))
    background = solved_plants.assumed_background(solution.network, bus, settings)
    return largest, [
        bus,
        pcc.kv,
        solved_plants.fundamental_pct(solution, bus),
        pcc.thdv_pct,
        limit,
        limit - pcc.thdv_pct,
        float(worst + 2),
        float(pcc.voltage_pct[worst + 1]),
        by_order[worst],
        solution.network.short_circuit_va(bus) / 1e6,
        solved_plants.bus_word(pcc, largest, by_order, background, solution.network),
    ]


def _pcc(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    return pcc_rows(solved_plants.assessment_of(tables, drives, bus, settings).require_pcc())


def _contributions(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    assessment = solved_plants.assessment_of(tables, drives, bus, settings)
    return contribution_rows(assessment, Summation(settings["summation"]))


def _value(
    tables: Tables, drives: Sequence[Values], bus: str, quantity: str, settings: Values
) -> float | str:
    if quantity == ASSUMED:
        return assumed((NETWORK_ARGUMENT, DRIVES_ARGUMENT, SETTINGS_ARGUMENT), (tables, drives, settings))
    if quantity in ASSESSMENT_QUANTITIES:
        return assessment_quantity(solved_plants.assessment_of(tables, drives, bus, settings), quantity)
    if quantity in BARE_QUANTITIES:
        assessment = solved_plants.assessment_of(tables, drives, bus, settings)
        options = pcc_options(bus, None, settings)
        return bare_quantity(quantity, plant_of(tables, drives, settings), options, assessment)
    solution = solved_plants.solution_of(tables, drives, settings)
    solved_plants.supplied_bus(solution.network, tables, bus)
    convergence = solution.convergence
    own: dict[str, Callable[[], float | str]] = {
        CONVERGED: lambda: "not needed" if convergence is None else "yes" if convergence.converged else "no",
        ITERATIONS: lambda: 0.0 if convergence is None else float(convergence.iterations),
        SC_MVA: lambda: solution.network.short_circuit_va(bus) / 1e6,
    }
    if quantity in own:
        return own[quantity]()
    solution.require()
    return solved_plants.fundamental_pct(solution, bus)


def _drive_rows(tables: Tables, drives: Sequence[Values], settings: Values) -> Grid:
    try:
        solution = solved_plants.solution_of(tables, drives, settings)
        solution.require()
    except NoSolutionError as problem:
        quick = solver().quick(plant_of(tables, drives, settings))
        return [[*drive_figures(result), alone_remark(result, str(problem))] for result in quick.drives]
    return [[*drive_figures(result), result.reason] for result in solution.drives]


def _amps(tables: Tables, drives: Sequence[Values], element: str, settings: Values) -> Grid:
    solution = solved_plants.solution_of(tables, drives, settings)
    if element == solved_plants.leading_generator(solution.network, tables, settings):
        return spectrum_rows(solved_plants.supply_amps(solution))
    if solved_plants.is_off(solution.network, tables, element):
        return NOTHING
    return spectrum_rows(solved_plants.amps_of(solution, element))


def _volts(tables: Tables, drives: Sequence[Values], place: str, settings: Values) -> Grid:
    solution = solved_plants.solution_of(tables, drives, settings)
    if solved_plants.is_off(solution.network, tables, place):
        return NOTHING
    return spectrum_rows(solved_plants.volts_of(solution, place))


def _scan(tables: Tables, bus: str, settings: Values) -> Grid:
    scan = solved_plants.scan_of(network_of(tables, settings), bus)
    angles = np.degrees(np.angle(scan.ohms))
    columns = (np.round(scan.orders, 6).tolist(), np.abs(scan.ohms).tolist(), angles.tolist())
    return [list(row) for row in zip(*columns, strict=True)]


def _resonances(tables: Tables, bus: str, settings: Values) -> Grid:
    found = solved_plants.resonances_of(network_of(tables, settings), bus)
    rows: Grid = [
        [r.kind, r.order, r.ohms, r.amplification, float(r.characteristic), r.distance_pct] for r in found
    ]
    return rows or [["none", "", "", "", "", ""]]


NETWORK_ARGUMENT = Argument("network", NETWORK, "Buses, utility and elements of the plant")
DRIVES_ARGUMENT = Argument("drives", PLANT_DRIVES, "Drive schedule with a heading row")
BUS_ARGUMENT = Argument("bus", Text(), "Name of a bus")

SETTINGS_ARGUMENT = Argument(
    "settings",
    NETWORK_SETTINGS,
    "Case, edition, summation and model of the drives",
    default=MappingProxyType(NETWORK_SETTINGS.defaults),
)

SPECTRUM_SHAPE = Shape(50, ("order", "magnitude", "angle deg"))

EXAMPLE_NETWORK = (
    '{"buses","","","","","";"name","kv","","","","";"U",13.8,"","","","";"M",0.48,"","","","";'
    '"utility","","","","","";"bus","max mva","","","","";"U",200,"","","","";'
    '"transformers","","","","","";"name","from bus","to bus","kva","z pct","vector group";'
    '"T1","U","M",1000,5.3,"Dyn1";'
    '"capacitors","","","","","";"name","bus","kvar","","","";"C1","M",100,"","",""}'
)

EXAMPLE_DRIVES = (
    '{"tag","rating","unit","efficiency pct","pulses","bus","line reactor pct";'
    '"P1",200,"kW",100,6,"M",3;"P2",100,"kW",100,12,"M",0}'
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_PLANT_BUSES",
        category=CATEGORY,
        summary="Every bus of the plant: voltage, distortion against its limit, strength of the supply",
        gives="one row per bus in the order of the table",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_bus_rows,
        shape=Shape(None, BUS_COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_PLANT_BUSES({EXAMPLE_NETWORK},{EXAMPLE_DRIVES}),2,5)",
                8.0,
                "IEEE 519-2022 Table 1, up to 1 kV (secondary sources)",
            ),
        ),
        notes="Voltages in percent of nominal, largest phase by order. Limits are those of IEEE 519, which "
        "speaks of the PCC: at other buses they are a yardstick. Linear load damps as much or as little as "
        "it may, the worse counts. NO VERDICT where a typical background, unless one is given, exceeds a "
        "limit together with what the plant makes.",
    ),
    WorksheetFunction(
        name="HD_PLANT_PCC",
        category=CATEGORY,
        summary="Current and voltage distortion by order with any bus of the plant as the PCC",
        gives="rows of orders 1 to 50 and a row of totals (rms of harmonics, TDD, voltage THD)",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_pcc,
        shape=PCC_SHAPE,
        examples=(
            Example(
                f'=INDEX(HD_PLANT_PCC({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U"),5,4)',
                12.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes="Current from the supply into the bus and all that lies behind it. Isc is that of the supply "
        "alone. Coupled: drives and network in one state; uncoupled: every drive as if alone on its bus. "
        "Loads and machines shunt harmonics as their model says.",
    ),
    WorksheetFunction(
        name="HD_PLANT_CONTRIBUTIONS",
        category=CATEGORY,
        summary="Which drives cause the order with the smallest margin at a bus, the largest share first",
        gives="one row per running drive of the schedule",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_contributions,
        shape=CONTRIBUTION_SHAPE,
        examples=(
            Example(
                f'=INDEX(HD_PLANT_CONTRIBUTIONS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U"),1,2)',
                "P1",
                "the larger, six-pulse drive; order 5 or 7",
            ),
        ),
        notes=CONTRIBUTION_NOTES,
    ),
    WorksheetFunction(
        name="HD_PLANT_VALUE",
        category=CATEGORY,
        summary="One number or text of the plant with a bus as the PCC",
        gives="percent, A, MVA, a ratio or text, as the quantity says",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            BUS_ARGUMENT,
            Argument("quantity", QUANTITIES, "What to give"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_value,
        refused=no_verdict(3),
        examples=(
            Example(
                f'=HD_PLANT_VALUE({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U","SC_MVA")',
                200.0,
                "the utility itself",
            ),
            Example(
                f'=HD_PLANT_VALUE({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U","CONVERGED")',
                "yes",
                "state of the iteration",
            ),
        ),
        notes=f"{QUANTITY_NOTES} And: SC_MVA, fault level of the supply; VOLTS_PCT, fundamental "
        "voltage in percent of nominal; CONVERGED: yes, no, or not needed (uncoupled); ITERATIONS.",
    ),
    WorksheetFunction(
        name="HD_PLANT_DRIVES",
        category=CATEGORY,
        summary="Every drive of the plant on its bus, one row each",
        gives="rows in the order of the schedule",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_drive_rows,
        shape=Shape(None, DRIVE_COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_PLANT_DRIVES({EXAMPLE_NETWORK},{EXAMPLE_DRIVES}),2,1)",
                "P2",
                "the schedule itself",
            ),
        ),
        notes="Currents of one unit at its own bus, in the phase with the largest distortion.",
    ),
    WorksheetFunction(
        name="HD_PLANT_AMPS",
        category=CATEGORY,
        summary="Current through a transformer or cable, or into a capacitor, load or generator",
        gives="spectrum: order, A, angle in degrees; the most distorted phase",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            Argument("element", Text(), "Name of an element; T3 secondary: of a winding"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_amps,
        shape=SPECTRUM_SHAPE,
        examples=(
            Example(
                f'=INDEX(HD_PLANT_AMPS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"C1"),1,1)', 1.0, "the order itself"
            ),
        ),
        notes="Transformers and cables: at the end of their to bus. Three-winding transformers: primary "
        "winding, unless secondary or tertiary stands behind the name. Zero where out of service. Use with "
        "HD_KFACTOR, HD_TRANSFORMER_LOAD_DRY, HD_GENERATOR_I2 or HD_CONDUCTOR_LOAD.",
    ),
    WorksheetFunction(
        name="HD_PLANT_VOLTS",
        category=CATEGORY,
        summary="Line-to-line voltage of a bus, or across the capacitors of a bank",
        gives="spectrum: order, V, angle in degrees; the most distorted of the three",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            Argument("place", Text(), "Name of a bus, capacitor bank or filter"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_volts,
        shape=SPECTRUM_SHAPE,
        examples=(
            Example(
                f'=INDEX(HD_PLANT_VOLTS({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"M"),1,1)', 1.0, "the order itself"
            ),
        ),
        notes="Use with HD_VERDICT_CAPACITOR or HD_THD.",
    ),
    WorksheetFunction(
        name="HD_PLANT_SCAN",
        category=CATEGORY,
        summary="Impedance against frequency at a bus",
        gives="rows in steps of a tenth from order 1 to 50: order, ohm per phase, angle in degrees",
        arguments=(NETWORK_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_scan,
        shape=Shape(491, ("order", "ohm", "angle deg")),
        examples=(Example(f'=INDEX(HD_PLANT_SCAN({EXAMPLE_NETWORK},"U"),491,1)', 50.0, "the grid itself"),),
        notes="Loads, machines, capacitors and cables as the network holds them; drives are no part of it.",
    ),
    WorksheetFunction(
        name="HD_PLANT_RESONANCES",
        category=CATEGORY,
        summary="Resonances at a bus between orders 1 and 50",
        gives="one row per resonance in rising order; one row 'none' without any",
        arguments=(NETWORK_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_resonances,
        shape=Shape(None, RESONANCE_COLUMNS),
        examples=(
            Example(
                f'=INDEX(HD_PLANT_RESONANCES({EXAMPLE_NETWORK},"M"),1,1)',
                "parallel",
                "capacitor against supply",
            ),
            Example(
                f'=INDEX(HD_PLANT_RESONANCES({EXAMPLE_NETWORK},"M"),1,5)',
                13.0,
                "sqrt(17.3 MVA / 0.1 Mvar) = 13.1, by hand",
            ),
        ),
        notes="Amplification: the impedance over the reactance of the sources alone at this order. "
        "Distance: from the nearest order that six-pulse converters draw, percent of that order.",
    ),
)
