"""A drive of a study as it stands on its supply, and the supply that a fit found put back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.face.drive import Drive, Supply
from xlcalc.face.expected import PASSES, changed_site, in_case
from xlcalc.face.plant import DriveList, Plant
from xlcalc.face.study import study
from xlcalc.schema.assembly.drive import INPUT_AMPS
from xlcalc.schema.inputs.drive import DRIVE_SETTINGS, DRIVES

_STIFF: Final = 1e6


def drive_of_study(
    plant: Plant, drives: DriveList, tag: str, *, case: str | None = None
) -> tuple[Drive, Supply, dict[str, object]]:
    """One unit of a drive, what it stands on, and the settings of its study.

    Parameters
    ----------
    plant : Plant
    drives : DriveList
    tag : str
        Of the drive.
    case : str, optional
        Name of the operating case; the first one where it is left out.

    Returns
    -------
    drive : Drive
    supply : Supply
        Short-circuit level and distortion at its terminals, from the study.
    settings : dict

    Raises
    ------
    InputError
        An unknown tag or case, or a drive without solution.
    """
    (found,) = _in_study(plant, drives, [tag], case)
    return _described(plant, drives, found)


def drives_of_study(
    plant: Plant, drives: DriveList, tags: Sequence[str], *, case: str | None = None
) -> tuple[list[Drive], Supply, dict[str, object]]:
    """Drives of one bus, all of each kind, what they stand on, and the settings of their study.

    Parameters
    ----------
    plant : Plant
    drives : DriveList
    tags : sequence of str
        Of drives on one bus.
    case : str, optional
        Name of the operating case; the first one where it is left out.

    Returns
    -------
    drives : list of Drive
    supply : Supply
    settings : dict

    Raises
    ------
    InputError
        An unknown tag or case, drives of several buses, or one without solution.
    """
    rows = _in_study(plant, drives, list(dict.fromkeys(tags)), case)
    if len(buses := sorted({str(row["bus"]) for row in rows})) > 1:
        raise InputError("drives", f"on the buses {', '.join(buses)}", "drives of one bus")
    found = [_described(plant, drives, row) for row in rows]
    whole = [replace(one[0], quantity=int(row["quantity"])) for one, row in zip(found, rows, strict=True)]
    return whole, found[0][1], found[0][2]


def _in_study(plant: Plant, drives: DriveList, tags: Sequence[str], case: str | None) -> list[pd.Series[Any]]:
    """Rows of the results of drives."""
    table = study(in_case(plant, case), drives).drives()
    known = [str(one) for one in table["tag"].unique()]
    found = []
    for tag in tags:
        rows = table[table["tag"].astype(str).str.casefold() == tag.casefold()]
        if rows.empty:
            raise InputError("drive", tag, "one of " + ", ".join(known[:20]))
        found.append(rows.iloc[0])
    return found


def _described(
    plant: Plant, drives: DriveList, row: pd.Series[Any]
) -> tuple[Drive, Supply, dict[str, object]]:
    """A drive from its row of the results."""
    tag = str(row["tag"])
    if row["status"] != "solved":
        raise InputError(f"drive {tag}", str(row["remark"] or row["status"]), "a drive with a solution")
    known = {
        field.name: row[field.name]
        for field in DRIVES.fields
        if field.name in row and field.name not in ("tag", "bus", "quantity", "rating", "unit")
    }
    listed = drives.frame
    own = listed[listed["tag"].astype(str).str.casefold() == tag.casefold()].iloc[0]
    filters = {name: own[name] for name in listed.columns if str(name).startswith("filter ")}
    values: dict[str, Any] = {
        name.replace("x/r", "xr").replace(" ", "_"): float(value)
        for name, value in {**filters, **known}.items()
        if pd.notna(value) and not isinstance(value, str)
    }
    values["pulses"] = int(values["pulses"])
    values[{"hp": "hp", INPUT_AMPS: "input_amps"}.get(str(row["unit"]), "kw")] = float(row["rating"])
    volts = plant.buses[str(row["bus"])]
    drive = Drive(str(row["tag"]), volts=volts, **values)
    mva = 100.0 * drive.rated_watts / 1e6 / float(row["source pct"])
    supply = Supply(kv=volts / 1e3, mva=mva, xr=float(row["source x/r"]))
    names = {field.name for field in DRIVE_SETTINGS.fields} - {"source x/r"}
    given = plant.site.settings
    settings = {name: given[name] for name in names if given.get(name) is not None}
    return drive, supply, settings


def utility_share(plant: Plant, bus: str, share: float, settings: Mapping[str, Any]) -> float:
    """By what the utility's short-circuit level is to be multiplied, so that the level at a bus is.

    Parameters
    ----------
    plant : Plant
    bus : str
    share : float
        Short-circuit level wanted at the bus over the one of the plant, above 0.
    settings : mapping
        Checked settings of the study.

    Returns
    -------
    float

    Raises
    ------
    InputError
        What lies between lets no such level through.
    """
    volts = plant.buses[bus]

    def ohms(times: float) -> float:
        site = changed_site(plant.site, "short-circuit level", times)
        assert site is not None
        return abs(site.network_in(settings).short_circuit_impedance(bus))

    wanted, weak = ohms(1.0) / share, 1.0
    for _ in range(PASSES):
        per = (ohms(1.0 / (1.1 * weak)) - ohms(1.0 / weak)) / (0.1 * weak)
        off = wanted - ohms(1.0 / weak)
        if abs(off) <= 1e-9 * wanted:
            break
        weak += off / per
        if weak <= 0.0:
            most = volts**2 / 1e6 / ohms(_STIFF)
            raise InputError(
                f"fitted level at {bus}",
                f"{volts**2 / 1e6 / wanted:.4g} MVA",
                f"less than the {most:.4g} MVA that the transformers let through; is their impedance right",
            )
    return 1.0 / weak
