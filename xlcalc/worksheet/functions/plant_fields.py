"""Names and columns that the plant functions understand: `site`, `drives` and `settings`."""

from __future__ import annotations

from collections.abc import Mapping

from xlcalc import plausible
from xlcalc.errors import InputError
from xlcalc.standards.supply_presets import preset_names
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive_settings import (
    DRIVE_REACTOR,
    FILTER_FIELDS,
    LOAD_PCT,
    X_OVER_R,
    drive_fields,
)
from xlcalc.worksheet.functions.link_power import EFFICIENCY_DOC, EFFICIENCY_PCT, RATING, UNIT
from xlcalc.worksheet.kinds import Choice, Number, Text, Whole
from xlcalc.worksheet.ranges import NamedValues, Records, normalised

EDITIONS = Choice(("1992", "2014", "2022"))
BUSES = Choice(("main", "second"))
KVA = Number(0, 1e6, "kVA", above=True, usual=plausible.TRANSFORMER_KVA)
KV = Number(0, 1000, "kV", above=True, usual=plausible.KV)
IMPEDANCE = Number(0, 50, "%", above=True, usual=plausible.TRANSFORMER_Z_PCT)
LOW_VOLTS = Number(0, 50_000, "V", above=True, usual=plausible.VOLTS)

SITE = NamedValues(
    (
        Argument(
            "pcc", Choice(("utility side", "main bus")), "Where the limits are judged", default="utility side"
        ),
        Argument("utility kv", KV, "Line-to-line voltage of the utility supply"),
        Argument(
            "utility mva", Number(0, 1e6, "MVA", above=True), "Three-phase short-circuit level of the utility"
        ),
        Argument("utility x/r", X_OVER_R, "X/R of the utility supply", default=10.0),
        Argument("transformer kva", KVA, "Rating of the supply transformer"),
        Argument("transformer z pct", IMPEDANCE, "Impedance of the supply transformer"),
        Argument("transformer x/r", X_OVER_R, "X/R of the supply transformer", default=6.0),
        Argument("main bus volts", LOW_VOLTS, "Line-to-line voltage behind the supply transformer"),
        Argument(
            "second transformer kva", KVA, "Rating of the transformer behind the main bus; blank: none", None
        ),
        Argument("second transformer z pct", IMPEDANCE, "Its impedance", None),
        Argument("second transformer x/r", X_OVER_R, "Its X/R", default=4.0),
        Argument("second transformer shift deg", Number(-180, 180, "deg"), "Its phase shift", default=0.0),
        Argument("second bus volts", LOW_VOLTS, "Line-to-line voltage behind the second transformer", None),
        Argument(
            "linear load kw",
            Number(0, 1e6, "kW", usual=plausible.LOAD_KW),
            "Load without harmonics on the main bus",
            default=0.0,
        ),
        Argument("linear load pf", Number(0, 1, above=True), "Its power factor, lagging", default=0.85),
        Argument(
            "linear load model",
            Choice(("parallel", "series", "none")),
            "What it is to harmonics: R and L side by side, in series, or open",
            default="parallel",
        ),
        Argument(
            "capacitor mvar",
            Number(0, 1000, "Mvar"),
            "Capacitors on the main bus, at its voltage; blank: none",
            None,
        ),
        Argument(
            "capacitor detuning pct",
            Number(0, 50, "%", usual=plausible.DETUNING_PCT),
            "Series reactor of the capacitors, percent of their reactance; blank: none",
            default=0.0,
        ),
        Argument(
            "demand amps",
            Number(0, 1e6, "A", above=True),
            "Maximum demand current; blank: from the loads",
            None,
        ),
    )
)

MOVED_TO_SITE = ("capacitor mvar",)
"""Names of `site` that files of earlier versions hold in `study`."""


def with_moved_names(
    study: Mapping[str, object], site: Mapping[str, object]
) -> tuple[dict[str, object], dict[str, object]]:
    """Raw values of `study` and `site` with each name in the place where it is read.

    Raises
    ------
    InputError
        A name is in both places with different values.

    Examples
    --------
    >>> with_moved_names({"title": "Mill", "Capacitor (Mvar)": 0.3}, {"utility kv": 13.8})
    ({'title': 'Mill'}, {'utility kv': 13.8, 'capacitor mvar': 0.3})
    """
    kept, changed = dict(study), dict(site)
    for name in study:
        moved = normalised(name)
        if moved not in MOVED_TO_SITE:
            continue
        value = kept.pop(name)
        if value is None or value == "":
            continue
        there = next((key for key in changed if normalised(key) == moved), None)
        if there is None or changed[there] in (None, ""):
            changed[there or moved] = value
        elif changed[there] != value:
            valid = f"the same value as in site ({changed[there]}), or only there"
            raise InputError(f"{moved} in study", value, valid)
    return kept, changed


DRIVES = Records(
    (
        Argument("tag", Text(), "Name of the drive, each once"),
        Argument("quantity", Whole(1, 1000), "How many of them", default=1),
        Argument("rating", RATING, "Rated shaft output of the drive"),
        Argument("unit", UNIT, "Unit of the rating"),
        Argument("efficiency pct", EFFICIENCY_PCT, EFFICIENCY_DOC, default=None),
        Argument("bus", BUSES, "Bus that feeds it", default="main"),
        Argument("pulses", Whole(6, 48, 6), "Pulse number of the front end"),
        Argument("line reactor pct", DRIVE_REACTOR, "Line reactor on the rating", default=0.0),
        Argument("dc choke pct", DRIVE_REACTOR, "DC choke on the rating", default=0.0),
        Argument("load pct", LOAD_PCT, "Load in percent of rated DC-link power", default=100.0),
        *FILTER_FIELDS,
    ),
    key="tag",
)

SOLUTION = Argument(
    "solution",
    Choice(("coupled", "uncoupled")),
    "Whether the distorted bus voltage acts back on the drives",
    default="coupled",
)

SUPPLY = Argument(
    "supply",
    Choice(preset_names()),
    "Levels to judge besides the supply as it is where unbalance or background are blank; ideal: none; "
    "blank: typical",
    default=None,
)
DEMAND_ESTIMATED = Argument(
    "demand amps estimated",
    Number(0, 1e6, "A"),
    "Largest fundamental at the PCC over all cases; the demand current where none is typed",
    default=None,
)
ESTIMATED_ITSELF = "blank in a file: it is computed from all cases; a known IL is 'demand amps'"

PLANT_SETTINGS = NamedValues(
    (
        SOLUTION,
        Argument("edition", EDITIONS, "Edition of IEEE 519", default="2022"),
        Argument("summation", Choice(("phasor", "arithmetic")), "How the drives add up", default="phasor"),
        SUPPLY,
        DEMAND_ESTIMATED,
        *drive_fields(supply_level_pct=None),
    )
)
