"""The plant study: drives, transformers and utility judged at the point of common coupling."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType
from typing import Any

from xlcalc.errors import InputError
from xlcalc.network.base import Network, short_circuit_va
from xlcalc.network.chain import MAIN_BUS, SECOND_BUS, UTILITY_BUS, series_plant
from xlcalc.network.elements import LinearLoad, Transformer, Utility
from xlcalc.network.short_circuit import short_circuit_amps
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.study.drives import DriveResult
from xlcalc.study.pcc import PccOptions, PccResult
from xlcalc.study.plant import Drive, Plant
from xlcalc.study.run import StudyResult, run_study
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive_settings import filter_of, front_end_values, supply_values
from xlcalc.worksheet.functions.plant_fields import DRIVES, PLANT_SETTINGS, SITE
from xlcalc.worksheet.kinds import Choice
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.values import Grid, Scalar

CATEGORY = "Plant and PCC"

WATTS_PER_UNIT = {"kW": 1000.0, "hp": 745.699872}

PCC_QUANTITIES = Choice(
    (
        "TDD",
        "LIMIT_TDD",
        "THDV",
        "LIMIT_THDV",
        "ISC_IL",
        "ISC",
        "IL",
        "MARGIN",
        "WORST_ORDER",
        "WORST",
        "VERDICT",
        "SOURCE",
    )
)
BUS_QUANTITIES = Choice(("KV", "SC_MVA", "SC_AMPS", "X_OHM", "X_R"))
SITE_BUSES = Choice((UTILITY_BUS, MAIN_BUS, SECOND_BUS))

_COLUMNS = {"reactor_pct": "line reactor pct", "choke_pct": "dc choke pct"}

Values = Mapping[str, Any]


def network(site: Values, supply: Values | None = None) -> Network:
    """Chain of utility, supply transformer and, where given, second transformer."""
    utility = Utility(
        1e3 * site["utility kv"], 1e6 * site["utility mva"], site["utility x/r"], **(supply or {})
    )
    main = Transformer(
        1e3 * site["transformer kva"],
        site["transformer z pct"],
        site["transformer x/r"],
        utility.volts,
        site["main bus volts"],
    )
    return series_plant(utility, main, _second_transformer(site))


def _second_transformer(site: Values) -> Transformer | None:
    names = ("second transformer kva", "second transformer z pct", "second bus volts")
    given = [name for name in names if site[name] is not None]
    if not given:
        return None
    missing = next((name for name in names if site[name] is None), None)
    if missing is not None:
        raise InputError(f"{missing} in site", None, f"a value, because {given[0]} is given")
    return Transformer(
        1e3 * site["second transformer kva"],
        site["second transformer z pct"],
        site["second transformer x/r"],
        site["main bus volts"],
        site["second bus volts"],
        site["second transformer shift deg"],
    )


def _study(drives: Sequence[Values], site: Values, settings: Values) -> StudyResult:
    return _run(plant_of(drives, site, settings), options_of(site, settings))


def plant_of(drives: Sequence[Values], site: Values, settings: Values) -> Plant:
    """The plant that checked values of `drives`, `site` and `settings` describe."""
    linear = LinearLoad(1e3 * site["linear load kw"], site["linear load pf"], MAIN_BUS)
    return Plant(
        network(site, supply_values(settings)),
        tuple(drive_of(row, front_end_values(settings)) for row in drives),
        (linear,) if linear.watts else (),
    )


def options_of(site: Values, settings: Values) -> PccOptions:
    """Where and how the plant is judged, from checked values of `site` and `settings`."""
    return PccOptions(
        UTILITY_BUS if site["pcc"] == "utility side" else MAIN_BUS,
        settings["edition"],
        site["demand amps"],
        settings["summation"],
    )


@lru_cache(maxsize=8)
def _run(plant: Plant, options: PccOptions) -> StudyResult:
    return run_study(plant, options)


def clear_cache() -> None:
    """Forget solved studies, so that a benchmark solves them again."""
    _run.cache_clear()


def check_filter(row: Values) -> None:
    """Raises `InputError` where the passive filter of a row is incomplete or does not suit its front end."""
    _front_end(row, {})


def drive_of(row: Values, values: Mapping[str, Any]) -> Drive:
    """A row of the schedule with the settings of its front end."""
    watts = row["rating"] * WATTS_PER_UNIT[row["unit"]] * 100.0 / row["efficiency pct"]
    try:
        front_end = _front_end(row, {"choke_pct": row["dc choke pct"], "load_pct": row["load pct"], **values})
    except InputError as problem:
        raise problem.renamed(f"{problem.argument} of drive {row['tag']}") from None
    return Drive(row["tag"], watts, front_end, row["bus"], row["quantity"])


def _front_end(row: Values, values: Mapping[str, Any]) -> FrontEnd:
    """The front end of a row; what it refuses goes by the name of the column."""
    try:
        return FrontEnd(row["pulses"], 1.0, row["line reactor pct"], filter=filter_of(row), **values)
    except InputError as problem:
        spaced = problem.argument.replace("_xr", " x/r").replace("_", " ")
        raise problem.renamed(_COLUMNS.get(problem.argument, spaced)) from None


def _pcc_rows(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return pcc_rows(_study(drives, site, settings).require_pcc())


def pcc_rows(pcc: PccResult) -> Grid:
    """Rows of orders 1 to 50 in the columns of HD_PCC, and a row of totals."""
    from xlcalc.study.tables import pcc_table

    by_order: Grid = [
        [float(order), *("" if math.isnan(value) else value for value in row)]
        for order, row in enumerate(pcc_table(pcc).to_numpy().tolist(), start=1)
    ]
    return [*by_order, _totals(pcc)]


def _totals(pcc: PccResult) -> list[Any]:
    tdd, thdv = pcc.judgement.verdicts[:2]
    return [
        "total",
        pcc.current.harmonic_rms,
        tdd.value,
        tdd.limit,
        tdd.margin,
        thdv.value,
        thdv.limit,
        thdv.margin,
    ]


def _pcc_value(drives: Sequence[Values], site: Values, quantity: str, settings: Values) -> float | str:
    return pcc_quantity(_study(drives, site, settings).require_pcc(), quantity)


def pcc_quantity(pcc: PccResult, quantity: str) -> float | str:
    """One of `PCC_QUANTITIES`."""
    judgement = pcc.judgement
    tdd, thdv = judgement.verdicts[:2]
    binding = judgement.binding
    values: dict[str, Callable[[], float | str]] = {
        "TDD": lambda: tdd.value,
        "LIMIT_TDD": lambda: tdd.limit,
        "THDV": lambda: thdv.value,
        "LIMIT_THDV": lambda: thdv.limit,
        "ISC_IL": lambda: pcc.isc_il,
        "ISC": lambda: pcc.short_circuit_amps,
        "IL": lambda: pcc.demand_amps,
        "MARGIN": lambda: 100.0 * (1.0 - binding.ratio),
        "WORST_ORDER": lambda: float(judgement.binding_order.order or 0) if judgement.binding_order else 0.0,
        "WORST": lambda: binding.name,
        "VERDICT": lambda: judgement.word,
        "SOURCE": lambda: f"{binding.origin.text}; {binding.verified}",
    }
    return values[quantity]()


def _drive_rows(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    study = _study(drives, site, settings)
    pcc = study.require_pcc()
    plant_network = network(site, supply_values(settings))
    rows: Grid = []
    for result in study.drives:
        at_pcc = max(float(phase.magnitude[4]) for phase in result.at(plant_network, pcc.bus))
        rows.append([*drive_figures(result), at_pcc])
    return rows


def drive_figures(result: DriveResult) -> list[Scalar]:
    """Tag, source %, THD %, 5th %, fundamental and rms amperes of a solved drive."""
    spectrum = result.spectrum
    assert spectrum is not None
    return [
        result.drive.tag,
        result.source_pct,
        spectrum.thd_pct,
        float(spectrum.percent[4]),
        spectrum.fundamental,
        spectrum.rms,
    ]


def _bus_value(site: Values, bus: str, quantity: str) -> float:
    plant = network(site)
    if bus not in plant.buses:
        raise InputError("bus", bus, "a bus of the site; the second transformer is not given")
    level, volts = short_circuit_va(plant, bus), plant.volts(bus)
    impedance = complex(plant.impedance(bus, 1))
    values = {
        "KV": volts / 1e3,
        "SC_MVA": level / 1e6,
        "SC_AMPS": short_circuit_amps(level, volts),
        "X_OHM": impedance.imag,
        "X_R": impedance.imag / impedance.real,
    }
    return values[quantity]


PCC_SHAPE = Shape(
    51,
    (
        "order",
        "current A",
        "% of demand current",
        "limit %",
        "margin points",
        "voltage %",
        "limit %",
        "margin points",
    ),
)

DRIVES_ARGUMENT = Argument("drives", DRIVES, "Drive schedule with a heading row")
SITE_ARGUMENT = Argument("site", SITE, "Utility, transformers and linear load")
SETTINGS_ARGUMENT = Argument(
    "settings",
    PLANT_SETTINGS,
    "Edition, summation and model of the drives",
    default=MappingProxyType(PLANT_SETTINGS.defaults),
)

EXAMPLE_DRIVES = '{"tag","rating","pulses","dc choke pct";"P1",200,6,4;"P2",300,18,4}'
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
        notes="Drives are solved on the impedance of their bus and added up; the distorted bus voltage "
        "does not act back on them, and linear load draws fundamental current only. Both are on "
        "the safe side without capacitors. On an unbalanced supply every order is judged by its "
        "largest phase.",
    ),
    WorksheetFunction(
        name="HD_PCC_VALUE",
        category=CATEGORY,
        summary="One number or text of the study at the PCC",
        gives="percent, A, a ratio or text, as the quantity says",
        arguments=(
            DRIVES_ARGUMENT,
            SITE_ARGUMENT,
            Argument("quantity", PCC_QUANTITIES, "What to give"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_pcc_value,
        examples=(
            Example(
                f'=HD_PCC_VALUE({EXAMPLE_DRIVES},{EXAMPLE_SITE},"LIMIT_TDD")',
                15.0,
                "IEEE 519-2022 Table 2, Isc/IL from 100 to 1000 (secondary sources)",
            ),
        ),
        notes="TDD, THDV and their limits in percent; ISC and IL in A at the PCC; MARGIN: how far the "
        "binding value stays below its limit, percent of the limit; WORST: the binding quantity; "
        "WORST_ORDER: the order with the smallest margin; VERDICT: PASS, FAIL or NO VERDICT; "
        "SOURCE: where the binding limit comes from.",
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
            ("tag", "source %", "THD %", "5th %", "fundamental A", "rms A", "5th at the PCC A, all units"),
        ),
        examples=(
            Example(f"=INDEX(HD_DRIVES({EXAMPLE_DRIVES},{EXAMPLE_SITE}),2,1)", "P2", "the schedule itself"),
        ),
        notes="Currents of one unit at its own bus, in the phase with the largest distortion.",
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
