"""One draw of a sweep applied to a site with one supply, or to a plant of buses."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import pandas as pd

from xlcalc.core.errors import InputError
from xlcalc.io.plants.plant_file import PlantSite, Values
from xlcalc.io.plants.site import Site
from xlcalc.jobs.sweep.sweep_model import DrawOutcome, Place, Record, drive_records, outcome_at, varied_drives
from xlcalc.jobs.sweep.sweep_plant_spec import PlantSpec, Tables, varied_settings, varied_tables
from xlcalc.jobs.sweep.sweep_spec import COUPLED, Input, SweepSpec
from xlcalc.schema.assembly.case_loads import rows_in_case
from xlcalc.schema.assembly.common_bus import on_common_bus
from xlcalc.schema.assembly.drive import drive_of
from xlcalc.schema.assembly.fitting import check_drives, meant_buses_of_plant
from xlcalc.schema.assembly.front_end import front_end_values
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.nameplate import with_unknowns
from xlcalc.schema.assembly.network import network_of
from xlcalc.schema.assembly.site import options_of, plant_of
from xlcalc.studies.nameplate.sampling import drawn_once
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import PlantSolution
from xlcalc.studies.solver import Solver
from xlcalc.studies.verdict.demand import largest_amps


@dataclass(frozen=True)
class SiteModel:
    """A site with its kinds of drives; see `SweepModel`.

    Parameters
    ----------
    site : Site
    records : tuple of mapping
        Kinds of drives.
    coupled : bool
        Whether the drives are solved with the voltage that they distort; otherwise each alone on its bus.
    """

    site: Site
    records: tuple[Record, ...]
    coupled: bool = False
    places: ClassVar[tuple[Place, ...]] = ({},)

    @classmethod
    def of(cls, spec: SweepSpec, site: Site, rows: pd.DataFrame) -> SiteModel:
        """The model for the accepted rows of a schedule."""
        return cls(site, drive_records(spec.inputs, rows), spec.solution == COUPLED)

    @property
    def samples_per_task(self) -> int:
        """As `SweepModel.samples_per_task`; a coupled one may take long."""
        return 1 if self.coupled else 10

    def outcomes(self, inputs: Sequence[Input], drawn: Sequence[float]) -> tuple[DrawOutcome, ...]:
        """As `SweepModel.outcomes`."""
        values = {"site": dict(self.site.site), "settings": dict(self.site.settings)}
        try:
            for given, number in zip(inputs, drawn, strict=True):
                if given.section in values:
                    target = values[given.section]
                    target[given.field.name] = given.value(number, target[given.field.name])
            records = varied_drives(self.records, inputs, drawn)
            site, settings = values["site"], values["settings"]
            plant, options = plant_of(records, site, settings), options_of(site, settings)
        except InputError as problem:
            return (DrawOutcome({}, str(problem)),)
        return (outcome_at(drawn_once(plant, drawn), options, Solver(), self.coupled),)


@dataclass(frozen=True)
class PlantModel:
    """A plant with its kinds of drives; see `SweepModel`.

    Parameters
    ----------
    plant : PlantSite
    records : tuple of mapping
        Kinds of drives.
    coupled : frozenset of str
        Cases that are coupled.
    judged : mapping of case to buses
        The PCCs that have supply in each case.
    """

    plant: PlantSite
    records: tuple[Record, ...]
    coupled: frozenset[str]
    judged: Mapping[str, tuple[str, ...]]

    @classmethod
    def of(cls, spec: PlantSpec, plant: PlantSite, rows: pd.DataFrame) -> PlantModel:
        """The model for the accepted rows of a schedule."""
        judged = {
            name: plant.pccs_in(network_of(plant.tables, settings)) for name, settings in plant.cases.items()
        }
        return cls(plant, drive_records(spec.sweep.inputs, rows), spec.coupled, judged)

    @property
    def samples_per_task(self) -> int:
        """As `SweepModel.samples_per_task`; a coupled one may take long."""
        return 1 if self.coupled else 5

    @property
    def places(self) -> tuple[Place, ...]:
        """As `SweepModel.places`."""
        return tuple({"case": case, "pcc": bus} for case, buses in self.judged.items() for bus in buses)

    def outcomes(self, inputs: Sequence[Input], drawn: Sequence[float]) -> tuple[DrawOutcome, ...]:
        """As `SweepModel.outcomes`."""
        try:
            tables = varied_tables(self.plant.tables, inputs, drawn)
            records = varied_drives(self.records, inputs, drawn)
        except InputError as problem:
            return tuple(DrawOutcome({}, str(problem)) for _ in self.places)
        states = {case: self._state(case, tables, records, inputs, drawn) for case in self.judged}
        sound = [state for state in states.values() if isinstance(state, _State)]
        found: list[DrawOutcome] = []
        for case, buses in self.judged.items():
            state = states[case]
            for bus in buses:
                if isinstance(state, str):
                    found.append(DrawOutcome({}, state))
                    continue
                options = _options(tables, bus, state.settings)
                counted = sound if bus in self.plant.pcc_buses else ()
                amps = [largest_amps([other.plant], options, other.solved) for other in counted]
                largest = max((each for each in amps if each is not None), default=None)
                found.append(outcome_at(state.plant, options, state.solver, state.coupled, largest))
        return tuple(found)

    def _state(
        self,
        case: str,
        tables: Tables,
        records: Sequence[Record],
        inputs: Sequence[Input],
        drawn: Sequence[float],
    ) -> _State | str:
        """A case with drawn inputs, or why there is none."""
        try:
            settings = varied_settings(self.plant.cases[case], inputs, drawn)
            network = network_of(tables, settings)
            loaded = on_common_bus(records, tables)
            running = [r for r in rows_in_case(loaded, settings) if r["bus"] in network.buses]
            check_drives(network, running, meant=meant_buses_of_plant(tables))
            values = front_end_values(settings)
            drives = tuple(drive_of(record, values, network) for record in running)
            plant = with_unknowns(StudiedPlant(network, drives), running, settings)
        except InputError as problem:
            return str(problem)
        return _State(drawn_once(plant, drawn), settings, case in self.coupled)


@dataclass(frozen=True, eq=False)
class _State:
    """A case with drawn inputs, and what has been solved of it."""

    plant: StudiedPlant
    settings: Values
    coupled: bool
    solver: Solver = field(default_factory=Solver)

    def solved(self, plant: StudiedPlant) -> PlantSolution:
        return self.solver.coupled(plant) if self.coupled else self.solver.quick(plant)


def _options(tables: Tables, bus: str, settings: Values) -> PccOptions:
    demand = next(row["demand amps"] for row in tables["buses"] if row["name"] == bus)
    return pcc_options(bus, demand, settings)
