"""Commutation notches of all drives together at the buses of a site."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from xlcalc.schema.assembly.site import plant_of
from xlcalc.schema.inputs.equipment import NOTCH_CLASS
from xlcalc.schema.values import Grid, Scalar
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS
from xlcalc.studies.notching import BusNotch, bus_notches
from xlcalc.studies.verdict.load_ends import supply_levels
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant import assessments, site_study
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

Values = Mapping[str, Any]

NOTCH_COLUMNS = (
    "bus",
    "depth %",
    "its limit %",
    "depth over the crest %",
    "area V us",
    "its limit V us",
    "width us",
    "drives with the deepest notch",
    "verdict",
    "verified",
    "remark",
)

NOTCH_NOTE = (
    "Depth (percent of the line-to-line voltage that would be there at that instant) and area from the "
    "waveform of the bus voltage that all drives and all their units make together, solved coupled. Drives "
    "that commutate together share one notch, from the first to start to the last to end; those behind "
    "another phase shift, and the bridges of multi-pulse drives, make notches of their own. Capacitors count "
    "up to order 50. A drive without a solution leaves its bus without a verdict; the remark names it. The "
    "notch of diodes starts at the zero crossing: its depth over the crest of the voltage is for information."
)


def notch_row(bus: str, one: BusNotch | None, system_class: str, edition: str) -> list[Scalar]:
    """A bus in the columns of `NOTCH_COLUMNS`; None where it is not supplied."""
    if one is None:
        return [bus, *[""] * 7, "not supplied", "", ""]
    judgement = one.judged(system_class, edition)
    depth, area = judgement.verdicts
    known = depth.given
    return [
        bus,
        depth.value if known else "",
        depth.limit,
        one.notch.crest_depth_pct if known else "",
        area.value if known else "",
        area.limit,
        1e6 * one.notch.width_s if known else "",
        ", ".join(one.tags),
        judgement.word,
        depth.verified,
        judgement.reason or one.remarks,
    ]


def _notches(drives: Sequence[Values], site: Values, system_class: str, settings: Values) -> Grid:
    plant = plant_of(drives, site, settings)
    levels = [
        bus_notches(replace(plant, network=network), assessments.solver().coupled)
        for network in supply_levels(plant.network).values()
    ]
    edition = settings["edition"]

    def severity(one: BusNotch) -> tuple[int, float]:
        judged = one.judged(system_class, edition)
        return (PASS, NO_VERDICT, FAIL).index(judged.word), judged.binding.ratio

    worst = (max(alike, key=severity) for alike in zip(*levels, strict=True))
    return [notch_row(one.bus, one, system_class, edition) for one in worst]


FUNCTIONS = (
    WorksheetFunction(
        name="HD_NOTCHES",
        category=site_study.CATEGORY,
        summary="Largest commutation notch at every bus of the site against IEEE 519",
        gives="one row per bus: utility, main, and second where there is a second transformer",
        arguments=(
            site_study.DRIVES_ARGUMENT,
            site_study.SITE_ARGUMENT,
            Argument.of(NOTCH_CLASS),
            site_study.SETTINGS_ARGUMENT,
        ),
        implementation=_notches,
        shape=Shape(None, NOTCH_COLUMNS),
        examples=(
            Example(
                f"=INDEX(HD_NOTCHES({site_study.EXAMPLE_DRIVES},{site_study.EXAMPLE_SITE}),2,3)",
                20.0,
                "IEEE 519-1992 Table 10.2, general class (one secondary source); unchanged since",
            ),
        ),
        notes=NOTCH_NOTE + " Both levels of the utility are tried; the worse of each bus is given.",
    ),
)
