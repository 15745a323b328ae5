"""A plant of buses from checked tables, rows of drives and settings."""

from __future__ import annotations

from collections.abc import Sequence

from xlcalc.core.errors import InputError
from xlcalc.network.from_rows import network_from_rows
from xlcalc.network.nodal import UTILITY, NodalNetwork
from xlcalc.network.plausible import MOST_DRIVE_KV
from xlcalc.network.switching import switched
from xlcalc.schema.assembly.active_front_ends import parts_off, stays_connected, with_front_ends
from xlcalc.schema.assembly.case_loads import rows_in_case
from xlcalc.schema.assembly.common_bus import on_common_bus
from xlcalc.schema.assembly.drive import drive_of
from xlcalc.schema.assembly.fitting import check_drives, meant_buses_of_plant
from xlcalc.schema.assembly.front_end import front_end_values, isolation_remarks
from xlcalc.schema.assembly.nameplate import with_unknowns
from xlcalc.schema.assembly.notes import notes_on_plant
from xlcalc.schema.inputs.supply import utility_values
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import Tables, Values
from xlcalc.studies.plant import StudiedPlant

MOST_VOLTAGE_MISMATCH = 0.10


def network_of(tables: Tables, settings: Values) -> NodalNetwork:
    """The network in the operating state of the settings."""
    network = with_front_ends(
        network_from_rows(
            tables,
            settings["short circuit"],
            settings["frequency hz"],
            settings["resistance exponent"],
            utility_values(settings),
        ),
        tables,
    )
    off = parts_off(_out_of_service(settings), tables, network)
    if settings["capacitors"] == "off":
        connected = stays_connected(network)
        off += [capacitor.name for capacitor in network.capacitors if capacitor.name not in connected]
    if settings["loads"] == "off":
        off += [load.name for load in network.loads]
    if settings["generators"] == "off":
        off += [generator.name for generator in network.generators]
    if settings["generators"] == "alone":
        off.append(UTILITY)
    try:
        return switched(network, off) if off else network
    except InputError as problem:
        if settings["out of service"] is not None:
            name, what = "out of service", "names of elements without which there is a plant"
        elif settings["generators"] == "alone":
            name, what = "generators", "alone only where they feed the plant"
        else:
            raise
        raise InputError(
            f"{name} in settings", settings[name], f"{what} ({problem})", wrong_kind=True
        ) from None


def _out_of_service(settings: Values) -> list[str]:
    return [name.strip() for name in (settings["out of service"] or "").split(";") if name.strip()]


def plant_of(tables: Tables, drives: Sequence[Values], settings: Values) -> StudiedPlant:
    """Network and running drives in the operating state of the settings."""
    network = network_of(tables, settings)
    off = _out_of_service(settings)
    loaded = on_common_bus(drives, tables)
    running = [row for row in rows_in_case(loaded, settings) if row["bus"] not in off]
    for row in running:
        _check_drive(network, row)
    check_drives(network, running, meant=meant_buses_of_plant(tables))
    values = front_end_values(settings)
    notes = notes_on_plant(tables, drives)
    placed = tuple(drive_of(row, values, network) for row in running)
    plant = StudiedPlant(
        network,
        placed,
        remarks=(*notes.remarks, *isolation_remarks(drive.front_end for drive in placed)),
        doubts=notes.doubts,
    )
    return with_unknowns(plant, running, settings)


def known_bus(network: NodalNetwork, bus: str, argument: str = "bus") -> None:
    """Raises `InputError` for a bus that the network does not have."""
    if bus not in network.buses:
        raise InputError(argument, bus, one_of(network.buses, bus), wrong_kind=True)


def _check_drive(network: NodalNetwork, row: Values) -> None:
    where = f"{row['tag']} in drives"
    known_bus(network, row["bus"], f"bus of {where}")
    nominal = network.volts(row["bus"])
    if nominal > 1e3 * MOST_DRIVE_KV:
        valid = f"up to {MOST_DRIVE_KV:g} kV, because {where} stands on it; is it in V?"
        raise InputError(f"kv of bus {row['bus']}", nominal / 1e3, valid)
    if row["volts"] is not None and abs(row["volts"] / nominal - 1.0) > MOST_VOLTAGE_MISMATCH:
        valid = f"within 10 % of the {nominal:g} V of bus {row['bus']}"
        if abs(1e3 * row["volts"] / nominal - 1.0) <= MOST_VOLTAGE_MISMATCH:
            valid += "; is it in kV?"
        raise InputError(f"volts of {where}", row["volts"], valid)
