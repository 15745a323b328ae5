"""The plant study: drives, transformers and utility judged at the point of common coupling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.network.chain import MAIN_BUS, SECOND_BUS, UTILITY_BUS
from xlcalc.network.short_circuit import short_circuit_amps
from xlcalc.schema.assembly.fitting import (
    check_estimated,
    drives_kva,
)
from xlcalc.schema.assembly.site import network, options_of, plant_of
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.kinds import Choice
from xlcalc.schema.values import Grid, Scalar
from xlcalc.studies.drives import DriveResult
from xlcalc.studies.sources import Summation
from xlcalc.studies.verdict.assessed import Assessment
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.assumed import assumed
from xlcalc.worksheet.functions.plant.assessments import assessment_of, solution_of, solver
from xlcalc.worksheet.functions.plant.pcc_values import (
    ASSUMED,
    BARE_QUANTITIES,
    CONTRIBUTION_NOTES,
    CONTRIBUTION_SHAPE,
    PCC_SHAPE,
    QUANTITIES,
    QUANTITY_NOTES,
    assessment_quantity,
    bare_quantity,
    contribution_rows,
    pcc_rows,
)
from xlcalc.worksheet.no_verdict import no_verdict
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Plant and PCC"
BUS_QUANTITIES = Choice(("KV", "SC_MVA", "SC_AMPS", "X_OHM", "X_R"))
SITE_BUSES = Choice((UTILITY_BUS, MAIN_BUS, SECOND_BUS))
Values = Mapping[str, Any]


def _pcc_rows(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return pcc_rows(assessed(drives, site, settings).require_pcc())


def _pcc_value(drives: Sequence[Values], site: Values, quantity: str, settings: Values) -> float | str:
    if quantity == ASSUMED:
        return assumed((DRIVES_ARGUMENT, SITE_ARGUMENT, SETTINGS_ARGUMENT), (drives, site, settings))
    assessment = assessed(drives, site, settings)
    if quantity in BARE_QUANTITIES:
        options = options_of(site, settings)
        return bare_quantity(quantity, plant_of(drives, site, settings), options, assessment)
    return assessment_quantity(assessment, quantity)


def _contributions(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return contribution_rows(assessed(drives, site, settings), Summation(settings["summation"]))


def assessed(drives: Sequence[Values], site: Values, settings: Values) -> Assessment:
    """The site judged at its PCC."""
    plant, options = plant_of(drives, site, settings), options_of(site, settings)
    volts = {bus: plant.network.volts(bus) for bus in plant.network.buses}
    drives_rated = drives_kva(drives, volts)
    rated = site["transformer kva"] + site["linear load kw"] / site["linear load pf"] + drives_rated
    check_estimated(settings, plant.network.volts(options.pcc) / 1e3, rated)
    return assessment_of(plant, options, settings)


def _drive_rows(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    plant, bus = plant_of(drives, site, settings), options_of(site, settings).pcc
    quick = solver().quick(plant)
    try:
        solution = solution_of(plant, settings)
        solution.require()
    except NoSolutionError as problem:
        return [_alone(result, str(problem)) for result in quick.drives]
    rows: Grid = []
    for result, alone in zip(solution.drives, quick.drives, strict=True):
        at_pcc = max(float(phase.magnitude[4]) for phase in result.at(solution.network, bus))
        rows.append([*drive_figures(result), at_pcc, *_distortion(alone), result.reason])
    return rows


def _alone(result: DriveResult, problem: str) -> list[Scalar]:
    """A drive of a plant without a common state: only what it draws alone on its bus holds."""
    own = alone_remark(result, problem)
    return [result.drive.tag, result.source_pct, *[""] * 5, *_distortion(result), own]


def alone_remark(result: DriveResult, problem: str) -> str:
    """What stands beside a drive whose plant has no common state."""
    return result.reason or f"alone on its bus, because the plant has no solution: {problem}"


def _distortion(result: DriveResult) -> list[Scalar]:
    """THD and 5th in percent; blank where the drive has no stable state."""
    spectrum = result.spectrum if result.stable else None
    return ["", ""] if spectrum is None else [spectrum.thd_pct, float(spectrum.percent[4])]


def drive_figures(result: DriveResult) -> list[Scalar]:
    """Tag, source %, THD %, 5th %, fundamental and rms amperes; blanks for a drive without a stable state."""
    spectrum = result.spectrum if result.stable else None
    amperes: list[Scalar] = ["", ""] if spectrum is None else [spectrum.fundamental, spectrum.rms]
    return [result.drive.tag, result.source_pct, *_distortion(result), *amperes]


def _bus_value(site: Values, bus: str, quantity: str) -> float:
    plant = network(site)
    if bus not in plant.buses:
        raise InputError("bus", bus, "a bus of the site; the second transformer is not given")
    level, volts = plant.short_circuit_va(bus), plant.volts(bus)
    impedance = plant.short_circuit_impedance(bus)
    values = {
        "KV": volts / 1e3,
        "SC_MVA": level / 1e6,
        "SC_AMPS": short_circuit_amps(level, volts),
        "X_OHM": impedance.imag,
        "X_R": impedance.imag / impedance.real,
    }
    return values[quantity]


DRIVES_ARGUMENT = Argument("drives", DRIVES, "Drive schedule with a heading row")
SITE_ARGUMENT = Argument("site", SITE, "Utility, transformers, linear load and capacitors")

SETTINGS_ARGUMENT = Argument(
    "settings",
    PLANT_SETTINGS,
    "Edition, summation and model of the drives",
    default=MappingProxyType(PLANT_SETTINGS.defaults),
)

EXAMPLE_DRIVES = '{"tag","rating","unit","pulses","dc choke pct";"P1",200,"kW",6,4;"P2",300,"kW",18,4}'

EXAMPLE_SITE = (
    '{"utility kv",13.8;"utility mva",200;"transformer kva",1500;"transformer z pct",5.75;'
    '"main bus volts",480;"linear load kw",300}'
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_PCC",
        category=CATEGORY,
        summary="Current and voltage distortion at the PCC by order, with limits and margins",
        gives="rows of orders 1 to 50 and a row of totals (rms of harmonics, TDD, voltage THD)",
        arguments=(DRIVES_ARGUMENT, SITE_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_pcc_rows,
        shape=PCC_SHAPE,
        examples=(
            Example(
                f"=INDEX(HD_PCC({EXAMPLE_DRIVES},{EXAMPLE_SITE}),5,4)",
                12.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes="Drives, supply, linear load and capacitors are solved together: the drives stand on the "
        "voltage that they distort. With the setting 'solution' uncoupled every drive is solved alone on the "
        "impedance of its bus and all are added up, a quick estimate that may be too high or too low. Linear "
        "load and capacitors shunt harmonics as 'linear load model' and 'capacitor detuning pct' say. On an "
        "unbalanced supply every order is judged by its largest phase.",
    ),
    WorksheetFunction(
        name="HD_PCC_VALUE",
        category=CATEGORY,
        summary="One number or text of the study at the PCC",
        gives="percent, A, a ratio or text, as the quantity says",
        arguments=(
            DRIVES_ARGUMENT,
            SITE_ARGUMENT,
            Argument("quantity", QUANTITIES, "What to give"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_pcc_value,
        refused=no_verdict(2),
        examples=(
            Example(
                f'=HD_PCC_VALUE({EXAMPLE_DRIVES},{EXAMPLE_SITE},"LIMIT_TDD")',
                15.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes=QUANTITY_NOTES,
    ),
    WorksheetFunction(
        name="HD_CONTRIBUTIONS",
        category=CATEGORY,
        summary="Which drives cause the order with the smallest margin at the PCC, the largest share first",
        gives="one row per row of the schedule",
        arguments=(DRIVES_ARGUMENT, SITE_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_contributions,
        shape=CONTRIBUTION_SHAPE,
        examples=(
            Example(
                f"=INDEX(HD_CONTRIBUTIONS({EXAMPLE_DRIVES},{EXAMPLE_SITE}),1,2)",
                "P1",
                "the six-pulse drive draws the orders 5 and 7, the 18-pulse one hardly any",
            ),
        ),
        notes=CONTRIBUTION_NOTES,
    ),
    WorksheetFunction(
        name="HD_DRIVES",
        category=CATEGORY,
        summary="Every drive of the schedule on its bus, one row each",
        gives="rows in the order of the schedule",
        arguments=(DRIVES_ARGUMENT, SITE_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_drive_rows,
        shape=Shape(
            None,
            (
                "tag",
                "source %",
                "THD %",
                "5th %",
                "fundamental A",
                "rms A",
                "5th at the PCC A, all units",
                "THD % if alone on its bus",
                "5th % if alone on its bus",
                "remark",
            ),
        ),
        examples=(
            Example(f"=INDEX(HD_DRIVES({EXAMPLE_DRIVES},{EXAMPLE_SITE}),2,1)", "P2", "the schedule itself"),
        ),
        notes="Currents of one unit at its own bus as they flow in the plant (setting 'solution'), in the "
        "phase with the largest distortion.",
    ),
    WorksheetFunction(
        name="HD_BUS_VALUE",
        category=CATEGORY,
        summary="Voltage or strength of a bus of the site",
        gives="kV, MVA, A, ohm or a ratio, as the quantity says",
        arguments=(
            SITE_ARGUMENT,
            Argument("bus", SITE_BUSES, "Bus of the site"),
            Argument("quantity", BUS_QUANTITIES, "What to give"),
        ),
        implementation=_bus_value,
        examples=(
            Example(
                f'=HD_BUS_VALUE({EXAMPLE_SITE},"utility","SC_AMPS")',
                8367.4,
                "200 MVA / (sqrt3 13.8 kV), by hand",
            ),
        ),
        notes="SC_MVA and SC_AMPS: three-phase short circuit; X_OHM: reactance at the voltage of the bus.",
    ),
)
