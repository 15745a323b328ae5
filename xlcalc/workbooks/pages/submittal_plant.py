"""The plant of a computed workbook, from its input cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from openpyxl.workbook import Workbook

from xlcalc.files.books import names, plant_names
from xlcalc.schema.assembly import network as of_buses
from xlcalc.schema.assembly import site as of_site
from xlcalc.schema.inputs.drive import DRIVES, PLANT_DRIVES
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS, PLANT_SETTINGS, STUDY
from xlcalc.schema.inputs.site import SITE
from xlcalc.studies.plant import StudiedPlant

COVER_FIELDS: Final = (
    *("client", "project", "title", "document number", "revision", "date"),
    *("prepared by", "checked by", "approved by", "remark"),
)


@dataclass(frozen=True)
class Drawn:
    """The plant of a workbook and the buses that are judged."""

    plant: StudiedPlant
    pccs: tuple[str, ...]


def plant_in(book: Workbook, file: str) -> Drawn | None:
    """The plant of a workbook with values, that of the first case for a plant of buses; None without one.

    Raises
    ------
    InputError
        Inputs do not make a plant.
    """
    if names.DRIVE_INPUTS not in book.defined_names:
        return None
    rows = grid(book, names.DRIVE_INPUTS, file)
    if plant_names.NETWORK in book.defined_names:
        settings = plant_names.case_settings(1)
        if settings not in book.defined_names:
            return None
        tables: Any = NETWORK.convert(grid(book, plant_names.NETWORK, file), "network")
        plant = of_buses.plant_of(
            tables,
            PLANT_DRIVES.convert(rows, "drives"),
            NETWORK_SETTINGS.convert(grid(book, settings, file), "settings"),
        )
        pccs = [plant_names.pcc_bus(number) for number in range(1, plant_names.PCCS + 1)]
        return Drawn(
            plant, tuple(str(grid(book, pcc, file)[0][0]) for pcc in pccs if pcc in book.defined_names)
        )
    if names.SITE not in book.defined_names:
        return None
    site = SITE.convert(grid(book, names.SITE, file), "site")
    settings_of = PLANT_SETTINGS.convert(grid(book, names.SETTINGS, file), "settings")
    plant = of_site.plant_of(DRIVES.convert(rows, "drives"), site, settings_of)
    return Drawn(plant, (of_site.options_of(site, settings_of).pcc,))


def cover_values(book: Workbook, file: str) -> dict[str, str]:
    """Data of the document for the cover, blank where they were not stated."""
    found = dict.fromkeys(COVER_FIELDS, "")
    if names.STUDY in book.defined_names:
        given = STUDY.convert(grid(book, names.STUDY, file), "study")
        found |= {name: str(given[name]) for name in COVER_FIELDS if given.get(name) is not None}
    return found


def grid(book: Workbook, name: str, file: str) -> list[list[Any]]:
    """Values of a named range."""
    sheet, (left, top, right, bottom) = names.place(book, name, file)
    return [
        [sheet.cell(row, column).value for column in range(left, right + 1)] for row in range(top, bottom + 1)
    ]
