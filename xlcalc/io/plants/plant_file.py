"""The site of a schedule as a network of buses, and how it is read from a TOML file."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.lists.example_rows import notes_on_plant_rows
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.plausible import MOST_DRIVE_KV
from xlcalc.schema.assembly.common_bus import loads_on_common_bus
from xlcalc.schema.assembly.fitting import meant_buses_of_plant
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.network import network_of
from xlcalc.schema.assembly.notes import Notes
from xlcalc.schema.assembly.plant_content import check_plant_file
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.inputs.settings import CASE_FIELDS, ESTIMATED_ITSELF, NETWORK_SETTINGS
from xlcalc.schema.places import PlacedValues
from xlcalc.schema.tables import normalised, stacked_grid
from xlcalc.schema.values import Grid
from xlcalc.studies.pcc import PccOptions

Values = Mapping[str, Any]
ONLY_CASE: Final = "all in service"


@dataclass(frozen=True)
class PlantSite:
    """A plant of buses with its cases.

    Parameters
    ----------
    name : str
        Name of the file without its ending.
    tables : mapping of title to records
        The network, converted and checked.
    settings : mapping
        Of the functions of plants, with the defaults of what a case sets.
    cases : mapping of name to mapping
        Settings of each case.
    study : mapping
        Title and remarks.
    chosen : tuple of str
        Buses that are to be judged, beside those with a demand current.
    coupled : frozenset of str
        Cases that the plant itself asks to have coupled where only one solution is made.
    """

    name: str
    tables: Mapping[str, Sequence[Values]]
    settings: Values
    cases: Mapping[str, Values]
    study: Mapping[str, object]
    chosen: tuple[str, ...] = ()
    coupled: frozenset[str] = frozenset()

    @cached_property
    def bus_volts(self) -> Mapping[str, float]:
        """Nominal volts of the buses that may feed a drive."""
        return {bus: volts for bus, volts in self.all_volts.items() if volts <= 1e3 * MOST_DRIVE_KV}

    @property
    def bus_names(self) -> tuple[str, ...]:
        """Names that a schedule may use for them."""
        return tuple(self.bus_volts)

    def bus_of(self, name: str) -> str | None:
        """The bus that a name in the schedule means; capitals do not count."""
        known = {bus.casefold(): bus for bus in self.bus_volts}
        return known.get(name.strip().casefold())

    def bus_for(self, volts: float | None) -> str | None:
        """None: the schedule names the bus of a drive on a network."""
        return None

    @property
    def all_volts(self) -> Mapping[str, float]:
        """Nominal volts of every bus."""
        return {str(row["name"]): 1e3 * float(row["kv"]) for row in self.tables["buses"]}

    always_coupled = True
    rating_input = None

    @property
    def meant(self) -> frozenset[str]:
        """Buses whose voltage was written with its unit."""
        return meant_buses_of_plant(self.tables)

    def network_in(self, settings: Values) -> NodalNetwork:
        """What is in service in a case."""
        return network_of(self.tables, settings)

    def points_in(self, settings: Values, network: NodalNetwork) -> tuple[PccOptions, ...]:
        """Every PCC that has supply in a case."""
        typed = {str(row["name"]): row["demand amps"] for row in self.tables["buses"]}
        return tuple(pcc_options(bus, typed.get(bus), settings) for bus in self.pccs_in(network))

    def notes_on(self, rows: pd.DataFrame) -> Notes:
        """What the accepted rows make a reader know."""
        return notes_on_plant_rows(self.tables, rows)

    def on_common_bus(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Rows with the load that inverters on a common DC bus make."""
        loads = loads_on_common_bus(rows.to_dict("records"), self.tables)  # type: ignore[arg-type]
        if not loads:
            return rows
        made = rows["tag"].astype(str).map(loads).astype(float)
        return rows.assign(**{"load pct": made.fillna(rows["load pct"])})

    @cached_property
    def pcc_buses(self) -> tuple[str, ...]:
        """Buses that are judged: those chosen or with a demand current, else that of the utility."""
        given = (str(row["name"]) for row in self.tables["buses"] if row["demand amps"] is not None)
        return tuple(dict.fromkeys((*self.chosen, *given))) or (str(self.tables["utility"][0]["bus"]),)

    def pccs_in(self, network: NodalNetwork) -> tuple[str, ...]:
        """Where a case is judged: the PCCs that have supply, else the bus of what feeds the plant."""
        supplied = tuple(bus for bus in self.pcc_buses if bus in network.buses)
        return supplied or (network.utility_bus,)


def plant_from(path: Path, content: Mapping[str, Any]) -> PlantSite:
    """A plant from the content of its TOML file.

    Raises
    ------
    InputError
        An unknown table or name, a missing or unusable value, a network that does not hold together, or a
        name of a case there twice; the message names file, table and row.
    """
    check_plant_file(content, path.name)
    stacked: Any = NETWORK.convert(stacked_grid(NETWORK, content), path.name)
    tables = {
        title: [
            PlacedValues({**row, "row": number, "columns": {}}, row.places, row.blank)
            for number, row in enumerate(rows, start=2)
        ]
        for title, rows in stacked.items()
    }
    settings: Grid = [[name, value] for name, value in content.get("settings", {}).items()]
    return plant_of_tables(path, tables, settings, content.get("cases", ()), content.get("study", {}))


def plant_of_tables(
    path: Path,
    tables: Mapping[str, Sequence[Values]],
    given: Grid,
    rows: Sequence[Values],
    study: Mapping[str, object],
    chosen: tuple[str, ...] = (),
) -> PlantSite:
    """A plant from its checked network, and from settings and cases as they were given.

    Raises
    ------
    InputError
        As `plant_from`.
    """
    settings = NETWORK_SETTINGS.convert(given, path.name)
    if settings["demand amps estimated"] is not None:
        raise InputError("demand amps estimated", settings["demand amps estimated"], ESTIMATED_ITSELF)
    said = {normalised(str(name)) for name, _ in given}
    cases: dict[str, Values] = {}
    coupled = set()
    for number, row in enumerate(rows, start=1):
        name = str(row.get("name") or f"case {number}")
        if name in cases:
            raise InputError(f"name of a case in {path.name}", name, "each name once")
        own = {
            field.name: field.convert(row[field.name], f"{field.name} in case {name} of {path.name}")
            for field in CASE_FIELDS
            if row.get(field.name) is not None
        }
        cases[name] = {**settings, **own}
        if "solution" in {*said, *own} and cases[name]["solution"] == "coupled":
            coupled.add(name)
    if not cases:
        cases[ONLY_CASE] = settings
        coupled |= {ONLY_CASE} if "solution" in said and settings["solution"] == "coupled" else set()
    plant = PlantSite(
        name=path.stem,
        tables=tables,
        settings=settings,
        cases=cases,
        study=study,
        chosen=chosen,
        coupled=frozenset(coupled),
    )
    for case in plant.cases.values():
        network_of(plant.tables, case)
    return plant
