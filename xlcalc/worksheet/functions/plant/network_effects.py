"""What a plant as a network does to its buses beside harmonics by order: power quantities and notches."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.core.spectrum import ComplexArray, Spectrum
from xlcalc.equipment.power import ThreePhasePower
from xlcalc.schema.assembly.network import known_bus, plant_of
from xlcalc.schema.inputs.equipment import NOTCH_CLASS
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid
from xlcalc.studies.notching import bus_notches
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.equipment.power import (
    DEFINITIONS,
    THREE_PHASE_QUANTITIES,
    THREE_PHASE_SHAPE,
    three_phase_rows,
)
from xlcalc.worksheet.functions.plant import assessments, solved_plants
from xlcalc.worksheet.functions.plant.notches import NOTCH_COLUMNS, NOTCH_NOTE, notch_row
from xlcalc.worksheet.functions.plant.plant_study import (
    BUS_ARGUMENT,
    CATEGORY,
    DRIVES_ARGUMENT,
    EXAMPLE_DRIVES,
    EXAMPLE_NETWORK,
    NETWORK_ARGUMENT,
    SETTINGS_ARGUMENT,
)
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction


def _power(tables: Tables, drives: Sequence[Values], bus: str, settings: Values) -> Grid:
    solution = solved_plants.solution_of(tables, drives, settings)
    if solved_plants.is_off(solution.network, tables, bus):
        return [[name, "", unit] for name, unit in THREE_PHASE_QUANTITIES]
    known_bus(solution.network, bus)
    solution.require()
    volts, amps = (_spectra(phases) for phases in (solution.flow.bus_volts(bus), solution.flow.inflow(bus)))
    return three_phase_rows(ThreePhasePower(volts, amps))


def _spectra(phases: ComplexArray) -> tuple[Spectrum, Spectrum, Spectrum]:
    a, b, c = (Spectrum(row) for row in phases)
    return a, b, c


def _notches(tables: Tables, drives: Sequence[Values], system_class: str, settings: Values) -> Grid:
    plant = plant_of(tables, drives, settings)
    found = bus_notches(plant, assessments.solver().coupled)
    by_bus = {one.bus: one for one in found}
    edition = settings["edition"]
    return [notch_row(row["name"], by_bus.get(row["name"]), system_class, edition) for row in tables["buses"]]


FUNCTIONS = (
    WorksheetFunction(
        name="HD_PLANT_POWER",
        category=CATEGORY,
        summary="Power quantities of IEEE 1459 of what flows from the supply into a bus, three phases",
        gives="rows of quantity, value, unit, with true and displacement power factor",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, BUS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_power,
        shape=THREE_PHASE_SHAPE,
        examples=(
            Example(
                f'=INDEX(HD_PLANT_POWER({EXAMPLE_NETWORK},{EXAMPLE_DRIVES},"U"),7,1)',
                "P",
                "order of the rows as in HD_POWER_3PH",
            ),
        ),
        notes=f"{DEFINITIONS} Effective values for three wires; rows as in HD_POWER_3PH. Blank where "
        "the bus is out of service.",
    ),
    WorksheetFunction(
        name="HD_PLANT_NOTCHES",
        category=CATEGORY,
        summary="Largest commutation notch at every bus of the plant against IEEE 519",
        gives="one row per bus in the order of the table",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            Argument.of(NOTCH_CLASS),
            SETTINGS_ARGUMENT,
        ),
        implementation=_notches,
        shape=Shape(None, NOTCH_COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_PLANT_NOTCHES({EXAMPLE_NETWORK},{EXAMPLE_DRIVES}),1,3)",
                20.0,
                "IEEE 519-1992 Table 10.2, general class (one secondary source); unchanged since",
            ),
        ),
        notes=NOTCH_NOTE,
    ),
)
