"""A plant of one supply from checked values of `drives`, `site` and `settings`."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from xlcalc.core.errors import InputError
from xlcalc.network.capacitors import CapacitorBank
from xlcalc.network.chain import MAIN_BUS, UTILITY_BUS, series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.drive import drive_of
from xlcalc.schema.assembly.fitting import (
    SITE_TRANSFORMERS,
    SITE_VOLTS,
    check_drives,
    check_site,
    meant_buses,
)
from xlcalc.schema.assembly.front_end import front_end_values, isolation_remarks
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.nameplate import with_unknowns
from xlcalc.schema.assembly.notes import notes_on_site
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.inputs.supply import utility_values
from xlcalc.schema.tables import Values
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant


def network(site: Values, supply: Values | None = None) -> NodalNetwork:
    """Utility, supply transformer and, where given, second transformer, with what stands on the main bus.

    Raises
    ------
    InputError
        Values of the site do not fit each other.
    """
    check_site(site)
    least = site["utility min mva"]
    utility = Utility(
        1e3 * site["utility kv"],
        1e6 * site["utility mva"],
        site["utility x/r"],
        least_va=None if least in (None, site["utility mva"]) else 1e6 * least,
        **(supply or {}),
    )
    volts = site["main bus volts"]
    main = Transformer(
        1e3 * site["transformer kva"],
        site["transformer z pct"],
        site["transformer x/r"],
        utility.volts,
        volts,
    )
    return series_network(
        utility, main, _second_transformer(site), capacitors=_capacitors(site), loads=_linear_load(site)
    )


def _capacitors(site: Values) -> tuple[CapacitorBank, ...]:
    mvar, detuning, volts = site["capacitor mvar"], site["capacitor detuning pct"], site["main bus volts"]
    if not mvar:
        if detuning:
            raise InputError("capacitor detuning pct in site", detuning, "blank without capacitor mvar")
        return ()
    return (CapacitorBank("capacitor", MAIN_BUS, 1e6 * mvar, volts, detuning),)


def _linear_load(site: Values) -> tuple[StaticLoad, ...]:
    watts = 1e3 * site["linear load kw"]
    if not watts:
        return ()
    var = watts * math.tan(math.acos(site["linear load pf"]))
    return (StaticLoad("linear load", MAIN_BUS, watts, var, LoadModel(site["linear load model"])),)


def _second_transformer(site: Values) -> Transformer | None:
    names = ("second transformer kva", "second transformer z pct", "second bus volts")
    given = [name for name in names if site[name] is not None]
    if not given:
        for name in ("second transformer x/r", "second transformer shift deg"):
            if site[name] != SITE.field(name).default:
                valid = f"blank, or {names[0]}, {names[1]} and {names[2]} as well"
                raise InputError(f"{name} in site", site[name], valid)
        return None
    missing = next((name for name in names if site[name] is None), None)
    if missing is not None:
        raise InputError(f"{missing} in site", None, f"a value, because {given[0]} is given")
    return Transformer(
        rating_va=1e3 * site["second transformer kva"],
        impedance_pct=site["second transformer z pct"],
        x_over_r=site["second transformer x/r"],
        primary_volts=site["main bus volts"],
        secondary_volts=site["second bus volts"],
        phase_shift_deg=site["second transformer shift deg"],
    )


def plant_of(drives: Sequence[Values], site: Values, settings: Values) -> StudiedPlant:
    """The plant that checked values of `drives`, `site` and `settings` describe.

    Raises
    ------
    InputError
        Values do not fit each other.
    """
    names = SITE_TRANSFORMERS.__getitem__, SITE_VOLTS.__getitem__
    check_drives(network(site), drives, *names, meant=meant_buses(site))
    notes = notes_on_site(site, drives)
    plant = unchecked_plant_of(drives, site, settings)
    isolation = isolation_remarks(drive.front_end for drive in plant.drives)
    noted = replace(plant, remarks=(*notes.remarks, *isolation), doubts=notes.doubts)
    return with_unknowns(noted, drives, settings)


def unchecked_plant_of(drives: Sequence[Values], site: Values, settings: Values) -> StudiedPlant:
    """As `plant_of`, whatever the drives are rated."""
    buses, values = network(site, utility_values(settings)), front_end_values(settings)
    return StudiedPlant(buses, tuple(drive_of(row, values, buses) for row in drives))


def options_of(site: Values, settings: Values) -> PccOptions:
    """Where and how the plant is judged, from checked values of `site` and `settings`."""
    bus = UTILITY_BUS if site["pcc"] == "utility side" else MAIN_BUS
    return pcc_options(bus, site["demand amps"], settings)
