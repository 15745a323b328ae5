"""All worksheet functions, in the order of the reference."""

from __future__ import annotations

from xlcalc.worksheet.functions import (
    about,
    figures,
    limits,
    plant,
    rectifier_rules,
    spectra,
    supply,
)
from xlcalc.worksheet.registry import collect

FUNCTIONS = collect(
    (
        *spectra.FUNCTIONS,
        *figures.FUNCTIONS,
        *rectifier_rules.FUNCTIONS,
        *supply.FUNCTIONS,
        *limits.FUNCTIONS,
        *plant.FUNCTIONS,
        *about.FUNCTIONS,
    )
)
