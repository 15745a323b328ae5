"""A chain of transformers as the model of a sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import pandas as pd

from xlcalc.bulk.site import Site
from xlcalc.bulk.sweep_model import Outcome, Place, Record, drive_records, outcome_at, varied_drives
from xlcalc.bulk.sweep_spec import COUPLED, Input, SweepSpec
from xlcalc.errors import InputError
from xlcalc.study.solver import Solver
from xlcalc.worksheet.functions.plant import options_of, plant_of


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

    def outcomes(self, inputs: Sequence[Input], drawn: Sequence[float]) -> tuple[Outcome, ...]:
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
            return (Outcome({}, str(problem)),)
        return (outcome_at(plant, options, Solver(), self.coupled),)
