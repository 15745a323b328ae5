"""Columns of the schedule of drives of a plant: inputs of the registry, and results of the case in view."""

from __future__ import annotations

from typing import Final

from xlcalc.schema.inputs.drive import PLANT_DRIVES
from xlcalc.workbooks.drive.schedule import DESCRIPTION, Calculated, cell, shown
from xlcalc.workbooks.kit import names
from xlcalc.workbooks.kit.labels import label
from xlcalc.worksheet.functions.plant.plant_study import DRIVE_COLUMNS

COUPLED: Final = ("drive_results", "drive_result_tags")
QUICK: Final = ("drive_quick", "drive_quick_tags")


def input_headings() -> tuple[str, ...]:
    """Headings of the inputs, the description after the tag."""
    first, *rest = (label(field.name) for field in shown(PLANT_DRIVES.fields))
    return (first, DESCRIPTION, *rest)


def input_span() -> str:
    """The inputs with their headings and all the room below them, the argument `drives`."""
    return names.DRIVE_INPUTS


def calculated() -> tuple[Calculated, ...]:
    """Computed columns, left to right."""

    def found(column: str, block: tuple[str, str]) -> str:
        """By tag in joined text: LibreOffice finds no text in the array of an add-in."""
        results, tags = block
        number = DRIVE_COLUMNS.index(column) + 1
        place = f'MATCH({cell("Tag")}&"",{tags},0)'
        return f'=IF({cell("Tag")}="","",IF(ISNA({place}),"off",INDEX({results},{place},{number})))'

    return (
        Calculated("Source (%)", found("source %", COUPLED), "0.00", "reactance that the drive sees"),
        Calculated("THD (%)", found("THD %", COUPLED), "0.0", "distortion of the line current, coupled"),
        Calculated("THD alone (%)", found("THD %", QUICK), "0.0", "the same with the drive alone on its bus"),
        Calculated("Fundamental (A)", found("fundamental A", COUPLED), "0.0", "of one drive at its bus"),
        Calculated("RMS (A)", found("rms A", COUPLED), "0.0", "of one drive at its bus"),
    )
