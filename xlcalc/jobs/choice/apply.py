"""A chosen mix as rows of a schedule, so that a study can be made of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.mitigation.choice import ChosenMix
from xlcalc.mitigation.milp.currents import fitted
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED, DriveOption
from xlcalc.schema.inputs.drive import FILTER_FIELDS
from xlcalc.studies.plant import ScheduledDrive

Row = Mapping[str, object]

FRONT_END: Final = ("pulses", "line reactor pct", "dc choke pct", *(field.name for field in FILTER_FIELDS))
NO_COLUMN: Final = (
    "options that columns of a schedule can state: reactors, chokes, pulse numbers, passive filters"
)


def check_applicable(choice: ChosenMix) -> None:
    """Raises `InputError` where the mix holds what no column of a schedule can state."""
    mix = choice.mix
    bought = [f"{item.name} on {bus}" for bus, item in mix.filters.items()]
    bought += [mix.bank.name] if mix.bank is not None else []
    bought += [
        f"{mix.options[drive.tag].name} for {drive.tag}"
        for drive in choice.problem.drives
        if fitted(drive, mix.options[drive.tag]) is None
    ]
    if bought:
        raise InputError("--apply", bought[0], NO_COLUMN)


def applied(choice: ChosenMix, rows: Sequence[Row]) -> tuple[Row, ...]:
    """Rows of a schedule with the front ends of the mix; what stays as scheduled is not touched.

    Raises
    ------
    InputError
        As `check_applicable`.
    """
    check_applicable(choice)
    drives = {drive.tag: drive for drive in choice.problem.drives}
    return tuple(_row(row, drives[str(row["tag"])], choice.mix.options[str(row["tag"])]) for row in rows)


def _row(row: Row, drive: ScheduledDrive, option: DriveOption) -> Row:
    if option.name == AS_SCHEDULED:
        return row
    bought = fitted(drive, option)
    assert bought is not None
    front_end = bought.front_end
    stated: dict[str, object] = {
        "pulses": front_end.pulses,
        "line reactor pct": front_end.reactor_pct,
        "dc choke pct": front_end.choke_pct,
    }
    if front_end.filter is not None:
        for field in FILTER_FIELDS:
            assert field.fills is not None
            value = getattr(front_end.filter, field.fills.attribute)
            if value != field.default:
                stated[field.name] = value
    return {**{name: value for name, value in row.items() if name not in FRONT_END}, **stated}
