"""A chain of transformers as the model of a sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import pandas as pd

from xlcalc.bulk.site_file import Site
from xlcalc.bulk.sweep_model import Outcome, Place, Record, drive_records, figures_of, varied_drives
from xlcalc.bulk.sweep_spec import Input, SweepSpec
from xlcalc.errors import InputError, NoSolutionError
from xlcalc.study.run import run_study
from xlcalc.worksheet.functions.plant import options_of, plant_of


@dataclass(frozen=True)
class SiteModel:
    """A site with its kinds of drives; see `SweepModel`."""

    site: Site
    records: tuple[Record, ...]
    samples_per_task: ClassVar[int] = 10
    places: ClassVar[tuple[Place, ...]] = ({},)

    @classmethod
    def of(cls, spec: SweepSpec, site: Site, rows: pd.DataFrame) -> SiteModel:
        """The model for the accepted rows of a schedule."""
        return cls(site, drive_records(spec.inputs, rows))

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
            study = run_study(plant_of(records, site, settings), options_of(site, settings))
            return (Outcome(figures_of(study.require_pcc())),)
        except (InputError, NoSolutionError) as problem:
            return (Outcome({}, str(problem)),)
