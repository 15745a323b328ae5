"""The site of a schedule: a plant with one supply, made from checked names and values."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final, Protocol

import pandas as pd

from xlcalc.core import plausible
from xlcalc.core.errors import InputError
from xlcalc.io.lists.example_rows import notes_on_site_rows
from xlcalc.io.lists.numerals import Decimal, Numeral, decimal_of, is_blank, read_numeral
from xlcalc.io.lists.rawtable import RawCell, RawTable
from xlcalc.network.chain import MAIN_BUS, SECOND_BUS
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.fitting import SITE_TRANSFORMERS, meant_buses
from xlcalc.schema.assembly.notes import Notes
from xlcalc.schema.assembly.site import network, options_of
from xlcalc.schema.inputs.settings import ESTIMATED_ITSELF, PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE, with_moved_names
from xlcalc.schema.inputs.supply import utility_values
from xlcalc.schema.kinds import Choice, Text
from xlcalc.schema.tables import NamedValues, normalised
from xlcalc.schema.values import Grid
from xlcalc.studies.pcc import PccOptions

KINDS: Final = {"site": SITE, "settings": PLANT_SETTINGS}
VOLTS_TOLERANCE: Final = 0.10
"""A motor's rated voltage may differ from the nominal voltage of its bus by this share (460 V on 480 V)."""
Raw = Mapping[str, object]
Values = Mapping[str, Any]


class DriveSite(Protocol):
    """A site with buses that may feed drives."""

    @property
    def name(self) -> str:
        """Name in the column ``site`` of a schedule."""
        ...

    @property
    def study(self) -> Mapping[str, object]:
        """Title and remarks for the results."""
        ...

    @property
    def bus_volts(self) -> Mapping[str, float]:
        """Nominal volts of the buses that may feed a drive."""
        ...

    @property
    def bus_names(self) -> tuple[str, ...]:
        """Names that a schedule may use for them."""
        ...

    def bus_of(self, name: str) -> str | None:
        """The bus that a name in the schedule means."""
        ...

    def bus_for(self, volts: float | None) -> str | None:
        """The bus of a drive for which the schedule names none; None where it must be named."""
        ...

    @property
    def all_volts(self) -> Mapping[str, float]:
        """Nominal volts of every bus."""
        ...

    @property
    def cases(self) -> Mapping[str, Values]:
        """Settings by the name of the case; one with a blank name where a site has no cases."""
        ...

    @property
    def always_coupled(self) -> bool:
        """Whether the quick estimate is never asked for."""
        ...

    @property
    def rating_input(self) -> Callable[[str], str] | None:
        """The input that gives the rating of a transformer, by its name; None is a row of a table."""
        ...

    @property
    def meant(self) -> Collection[str]:
        """Buses whose voltage was written with its unit."""
        ...

    def network_in(self, settings: Values) -> NodalNetwork:
        """What is in service in a case."""
        ...

    def points_in(self, settings: Values, network: NodalNetwork) -> tuple[PccOptions, ...]:
        """Where and how a case is judged, with the demand currents that were typed; one or more."""
        ...

    def notes_on(self, rows: pd.DataFrame) -> Notes:
        """What the accepted rows make a reader know."""
        ...

    def on_common_bus(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Rows with the load that inverters on a common DC bus make."""
        ...


@dataclass(frozen=True)
class Site:
    """A site with checked values.

    Parameters
    ----------
    name : str
        The file's name without its ending; the schedule's column ``site`` refers to it.
    site, settings : mapping
        Values as the plant functions take them.
    study : mapping
        Title and other remarks, carried into the results.
    buses : mapping of name to bus
        Names that the schedule may use for the buses ``main`` and ``second``.
    """

    name: str
    site: Values
    settings: Values
    study: Raw = field(default_factory=dict)
    buses: Mapping[str, str] = field(default_factory=dict)

    @property
    def bus_volts(self) -> dict[str, float]:
        """Nominal volts of the buses that may feed a drive."""
        plant = network(self.site)
        return {bus: plant.volts(bus) for bus in (MAIN_BUS, SECOND_BUS) if bus in plant.buses}

    @property
    def bus_names(self) -> tuple[str, ...]:
        """Names that a schedule may use for them."""
        return (*self.bus_volts, *self.buses)

    def bus_of(self, name: str) -> str | None:
        """The bus that a name in the schedule means."""
        known = {bus: bus for bus in self.bus_volts}
        known |= {alias.casefold(): bus for alias, bus in self.buses.items()}
        return known.get(name.strip().casefold())

    def bus_for(self, volts: float | None) -> str | None:
        """The first bus whose voltage fits; the first of all where none does, or no voltage is given."""
        near = [bus for bus, nominal in self.bus_volts.items() if volts_fit(volts, nominal)]
        return next(iter(near or self.bus_volts))

    @property
    def all_volts(self) -> dict[str, float]:
        """Nominal volts of every bus."""
        plant = network(self.site)
        return {bus: plant.volts(bus) for bus in plant.buses}

    @property
    def cases(self) -> dict[str, Values]:
        """Its settings, as a case without a name."""
        return {"": self.settings}

    always_coupled = False
    rating_input = staticmethod(SITE_TRANSFORMERS.__getitem__)

    @property
    def meant(self) -> frozenset[str]:
        """Buses whose voltage was written with its unit."""
        return meant_buses(self.site)

    def network_in(self, settings: Values) -> NodalNetwork:
        """Utility, transformers, and what stands on the main bus."""
        return network(self.site, utility_values(settings))

    def points_in(self, settings: Values, network: NodalNetwork) -> tuple[PccOptions, ...]:
        """The PCC of the site."""
        return (options_of(self.site, settings),)

    def notes_on(self, rows: pd.DataFrame) -> Notes:
        """What the accepted rows make a reader know."""
        return notes_on_site_rows(self.site, rows)

    def on_common_bus(self, rows: pd.DataFrame) -> pd.DataFrame:
        """As they are: a site has no table of inverters."""
        return rows


def volts_fit(volts: float | None, nominal: float) -> bool:
    """Whether a drive of a rated voltage may stand on a bus."""
    return volts is not None and abs(volts / nominal - 1.0) <= VOLTS_TOLERANCE


def site_from(name: str, tables: Mapping[str, Raw]) -> Site:
    """A site from its raw tables `study`, `site`, `settings`, `buses`; raises `InputError` as `read_site`."""
    buses = {str(alias): str(bus).casefold() for alias, bus in tables.get("buses", {}).items()}
    study, of_site = with_moved_names(tables.get("study", {}), tables.get("site", {}))
    site = Site(
        name,
        SITE.convert(_grid(of_site), "site"),
        PLANT_SETTINGS.convert(_grid(tables.get("settings", {})), "settings"),
        study,
        buses,
    )
    if site.settings["demand amps estimated"] is not None:
        raise InputError("demand amps estimated", site.settings["demand amps estimated"], ESTIMATED_ITSELF)
    for alias, bus in buses.items():
        if bus not in site.bus_volts:
            raise InputError(f"{alias} in buses", bus, "one of " + ", ".join(site.bus_volts))
    return site


def _grid(values: Raw) -> Grid:
    rows: Grid = []
    for name, value in values.items():
        if value is not None and not isinstance(value, str | int | float):
            raise InputError(name, str(value), "a number or a text", wrong_kind=True)
        rows.append([name, value])
    return rows


def named_values(tables: Iterable[RawTable], decimal: Decimal | None) -> dict[str, dict[str, object]]:
    """Rows whose first cell is a known name, with the value beside it; everything else on the sheets is
    passed over, but a file without any known name is an error."""
    found: dict[str, dict[str, object]] = {section: {} for section in KINDS}
    seen = []
    for table in tables:
        rows = [(row[0], row[1] if len(row) > 1 else None) for row in table.rows if row]
        sign = decimal or decimal_of(value for _, value in rows if isinstance(value, str))
        sections = list(KINDS)
        for name, value in rows:
            if not isinstance(name, str):
                continue
            seen.append(name)
            heading = normalised(name)
            if is_blank(value):
                sections = [heading] if heading in KINDS else sections
                continue
            section = next((s for s in sections if argument_of(KINDS[s], name) is not None), None)
            if section is None:
                continue
            argument = argument_of(KINDS[section], name)
            if argument.name in found[section]:
                raise InputError(f"{argument.name} in {table.name}", "duplicated", "each name once")
            found[section][argument.name] = value_of(value, argument.kind, sign)
    if not found["site"]:
        raise InputError("--site", f"without known names ({', '.join(seen[:4])})", "rows of name and value")
    return found


def is_known(text: str) -> bool:
    return any(argument_of(kind, text) is not None for kind in KINDS.values())


def argument_of(kind: NamedValues, name: str) -> Any:
    """The declared name that a text means, if any."""
    plain = normalised(name)
    return next((f for f in kind.fields if normalised(f.name) == plain), None)


def value_of(value: RawCell, kind: object, sign: Decimal | None) -> object:
    """A raw cell as the value of a declared name."""
    if isinstance(value, Numeral):
        return plausible.Stated(value.value) if value.unit else value.value
    if isinstance(value, str) and not isinstance(kind, Choice | Text):
        try:
            numeral = read_numeral(value, sign)
        except ValueError:
            numeral = None
        return value if numeral is None or numeral.unit else numeral.value
    return value
