"""Currents, inductances and losses that order the magnetics of the drives of a site or plant."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from xlcalc.schema.assembly.network import plant_of
from xlcalc.schema.assembly.site import plant_of as plant_of_site
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.studies.duty.front_end import Coil, Magnetics
from xlcalc.studies.duty.schedule import DriveMagnetics, drive_magnetics
from xlcalc.studies.plant import StudiedPlant
from xlcalc.worksheet.functions.plant import plant_study, site_study
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

LINE_ORDERS: Final = (5, 7, 11, 13)
DRIVE_COLUMNS: Final = ("tag", "units", "V", "link kW")
REACTOR_COLUMNS: Final = (
    "reactor mH",
    "reactor rms A",
    "reactor fundamental A",
    *(f"reactor {order}th A" for order in LINE_ORDERS),
    "reactor peak A",
    "reactor rms A at 90 % line",
    "reactor peak A at 90 % line",
    "reactor loss W",
)
CHOKE_COLUMNS: Final = (
    "chokes per drive",
    "choke mH",
    "choke mean A",
    "choke ripple rms A",
    "choke rms A",
    "choke peak A",
    "choke mean A at 90 % line",
    "choke peak A at 90 % line",
    "choke loss W",
)
FILTER_COLUMNS: Final = (
    "filter reactor mH",
    "filter reactor rms A",
    "filter reactor peak A",
    "filter shunt coil mH",
    "filter shunt rms A",
    "filter capacitor uF per phase, star",
    "filter capacitor V, line to line",
)
COLUMNS: Final = (*DRIVE_COLUMNS, *REACTOR_COLUMNS, *CHOKE_COLUMNS, *FILTER_COLUMNS, "remark")


def magnetics_rows(plant: StudiedPlant) -> Grid:
    """Rows in the columns of `COLUMNS`, one per drive of a plant."""
    return [_row(sized) for sized in drive_magnetics(plant)]


def _row(sized: DriveMagnetics) -> list[Scalar]:
    drive, nominal, low = sized.drive, sized.nominal, sized.low
    cells: list[Scalar] = [drive.tag, float(drive.quantity), sized.volts, drive.rated_watts / 1e3]
    if nominal is None:
        return [*cells, *[""] * (len(COLUMNS) - len(cells) - 1), sized.reason]
    cells += _reactor(nominal.line_reactor, low.line_reactor if low else None)
    cells += _choke(nominal, low.choke if low else None)
    return [*cells, *_filter(nominal), sized.reason]


def _reactor(coil: Coil | None, low: Coil | None) -> list[Scalar]:
    if coil is None:
        return [""] * len(REACTOR_COLUMNS)
    at_low: list[Scalar] = [low.rms, low.peak] if low else ["", ""]
    orders = [coil.orders[order] for order in LINE_ORDERS]
    return [1e3 * coil.henry, coil.rms, coil.steady, *orders, coil.peak, *at_low, coil.watts]


def _choke(nominal: Magnetics, low: Coil | None) -> list[Scalar]:
    coil = nominal.choke
    if coil is None:
        return [""] * len(CHOKE_COLUMNS)
    ripple = max(0.0, coil.rms**2 - coil.steady**2) ** 0.5
    at_low: list[Scalar] = [low.steady, low.peak] if low else ["", ""]
    count = float(nominal.front_end.bridges)
    return [count, 1e3 * coil.henry, coil.steady, ripple, coil.rms, coil.peak, *at_low, coil.watts]


def _filter(nominal: Magnetics) -> list[Scalar]:
    shunt, series = nominal.filter_shunt, nominal.filter_reactor
    if shunt is None:
        return [""] * len(FILTER_COLUMNS)
    coil, farad, volts = shunt
    ahead: list[Scalar] = [1e3 * series.henry, series.rms, series.peak] if series else ["", "", ""]
    return [*ahead, 1e3 * coil.henry, coil.rms, 1e6 * farad, volts]


def _of_site(drives: Sequence[Values], site: Values, settings: Values) -> Grid:
    return magnetics_rows(plant_of_site(drives, site, settings))


def _of_plant(tables: Tables, drives: Sequence[Values], settings: Values) -> Grid:
    return magnetics_rows(plant_of(tables, drives, settings))


NOTES = (
    "One unit, alone on its bus, at its load or its rating, whichever is more, on the voltage of the supply; "
    "the load keeps its power where the line voltage is low. mH and currents of one coil in the phase or "
    "bridge that carries most, losses of all coils of a device in the resistance that its X/R states, "
    "without what eddy currents add. Values for an enquiry, not for a purchase: tolerances, core losses, "
    "temperature and duty are the maker's."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_MAGNETICS",
        category=site_study.CATEGORY,
        summary="Line reactor, DC choke and filter of every drive: millihenry, currents by order, peak, loss",
        gives="one row per row of the schedule; blank where a drive has no such device",
        arguments=(site_study.DRIVES_ARGUMENT, site_study.SITE_ARGUMENT, site_study.SETTINGS_ARGUMENT),
        implementation=_of_site,
        shape=Shape(None, COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_MAGNETICS({"tag","rating","unit","efficiency pct","pulses","line reactor pct";'
                f'"P1",75,"kW",100,6,3}},{site_study.EXAMPLE_SITE}),1,5)',
                0.244462,
                "0.03 x 480^2 / 75000 / (2 pi 60), by hand",
            ),
        ),
        notes=NOTES,
    ),
    WorksheetFunction(
        name="HD_PLANT_MAGNETICS",
        category=plant_study.CATEGORY,
        summary="Line reactor, DC choke and filter of every running drive of a plant, as HD_MAGNETICS",
        gives="one row per running drive; blank where it has no such device",
        arguments=(
            plant_study.NETWORK_ARGUMENT,
            plant_study.DRIVES_ARGUMENT,
            plant_study.SETTINGS_ARGUMENT,
        ),
        implementation=_of_plant,
        shape=Shape(None, COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_PLANT_MAGNETICS({plant_study.EXAMPLE_NETWORK},{plant_study.EXAMPLE_DRIVES}),1,5)",
                0.091673,
                "0.03 x 480^2 / 200000 / (2 pi 60), by hand",
            ),
        ),
        notes=NOTES,
    ),
)
