"""What rows by nameplate leave open: each assumption with its range, for drives alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from xlcalc.equipment.motor_efficiency import BASIS, CLASSES, typical_efficiency_pct
from xlcalc.equipment.nameplate import Habit, habit
from xlcalc.schema.assembly.drive import INPUT_AMPS, REACTORS, amps_watts, efficiency_pct, shaft_watts
from xlcalc.schema.inputs.drive import MODEL_FIELDS
from xlcalc.schema.nameplate import ByNameplate
from xlcalc.schema.tables import Values
from xlcalc.studies.nameplate.assumption import POWER, Assumption
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant

ATTRIBUTES: Final = {"line reactor pct": "reactor_pct", "dc choke pct": "choke_pct"}
CAPACITANCE: Final = next(field for field in MODEL_FIELDS if field.name == "dc capacitance pu")
TIMES: Final = "times"


def unknowns_of(
    rows: Sequence[Values], plant: StudiedPlant, settings: Mapping[str, object]
) -> tuple[Assumption, ...]:
    """What is open of the drives of a plant; nothing where no row is by nameplate.

    Parameters
    ----------
    rows : sequence of mapping
        Checked rows of the schedule; those without a drive in the plant are passed over.
    plant : StudiedPlant
        Its drives, with typical values.
    settings : mapping
        Checked values of `settings`.
    """
    drives = {drive.tag: drive for drive in plant.drives}
    placed = [(row, drives[str(row["tag"])]) for row in rows if str(row["tag"]) in drives]
    named = [(row, drive) for row, drive in placed if is_by_nameplate(row)]
    if not named:
        return ()
    found: dict[tuple[str, Habit], list[str]] = {}
    for row, drive in named:
        for name in REACTORS:
            value = row[name]
            if isinstance(value, ByNameplate):
                found.setdefault((name, value.habit(drive.rated_watts / 1e3)), []).append(drive.tag)
    unknowns = [
        _unknown(name, ATTRIBUTES[name], tags, *(one.low, one.typical, one.high), one.unit, one.basis)
        for (name, one), tags in found.items()
        if one.low < one.high
    ]
    by_amps = [(row, drive) for row, drive in named if row["unit"] == INPUT_AMPS]
    unknowns += _by_amps(by_amps, plant) if by_amps else []
    unknowns += _efficiencies([row for row, _ in placed])
    if not _is_given(settings, CAPACITANCE.name):
        one = habit("dc capacitance", "blank")
        tags = [drive.tag for _, drive in named]
        typical = float(str(CAPACITANCE.default))
        unknowns.append(
            _unknown("dc capacitance", "dc_capacitance_pu", tags, one.low, typical, one.high, "pu", one.basis)
        )
    return tuple(unknowns)


def with_unknowns(
    plant: StudiedPlant, rows: Sequence[Values], settings: Mapping[str, object]
) -> StudiedPlant:
    """The plant with what `unknowns_of` finds."""
    return replace(plant, unknowns=unknowns_of(rows, plant, settings))


def is_by_nameplate(row: Values) -> bool:
    """Whether a row gives words or an input current in place of percent and power."""
    return row["unit"] == INPUT_AMPS or any(isinstance(row[name], ByNameplate) for name in REACTORS)


def _by_amps(rows: Sequence[tuple[Values, ScheduledDrive]], plant: StudiedPlant) -> list[Assumption]:
    """Link power from an input current: how exactly it is stated, and on which supply."""
    declared, supply = habit("input current", "declared"), habit("supply of the input current", "declared")
    low, high = 1.0, 1.0
    for row, drive in rows:
        volts = plant.network.volts(drive.bus)
        ends = [
            amps_watts(row, volts, strength) / drive.rated_watts for strength in (supply.low, supply.high)
        ]
        low, high = min(low, *ends), max(high, *ends)
    basis = (
        f"sqrt3 V I times the power factor of the front end on R_sce {supply.typical:g}; {declared.basis}; "
        f"R_sce {supply.low:g} to {supply.high:g}"
    )
    tags = [drive.tag for _, drive in rows]
    ends = [declared.low * low, 1.0, declared.high * high]
    return [_unknown("link power from input amperes", POWER, tags, *ends, TIMES, basis)]


def _efficiencies(rows: Sequence[Values]) -> list[Assumption]:
    """Link power from a shaft output without an efficiency: from the best class of motors to the worst."""
    blank = [row for row in rows if row["unit"] != INPUT_AMPS and _is_typical(row)]
    if not blank:
        return []
    low, high = 1.0, 1.0
    for row in blank:
        watts = shaft_watts(row["rating"], row["unit"])
        least, most = (typical_efficiency_pct(watts, name) for name in (CLASSES[0], CLASSES[-1]))
        taken = typical_efficiency_pct(watts)
        low, high = min(low, taken / most), max(high, taken / least)
    basis = f"{BASIS}; range {CLASSES[0]} to {CLASSES[-1]}"
    tags = [str(row["tag"]) for row in blank]
    return [_unknown("link power from efficiency", POWER, tags, low, 1.0, high, TIMES, basis)]


def _is_typical(row: Values) -> bool:
    """Whether the efficiency was blank; lists keep the typical number in its place."""
    given = row["efficiency pct"]
    return given is None or given == efficiency_pct(row["rating"], row["unit"])


def _is_given(settings: Mapping[str, object], name: str) -> bool:
    blank = getattr(settings, "blank", None)
    return settings[name] != CAPACITANCE.default if blank is None else name not in blank


def _unknown(name: str, attribute: str, tags: Sequence[str], *values: float | str) -> Assumption:
    low, typical, high, unit, basis = values
    return Assumption(
        name=name,
        attribute=attribute,
        tags=tuple(tags),
        low=float(low),
        typical=float(typical),
        high=float(high),
        unit=str(unit),
        basis=str(basis),
    )
