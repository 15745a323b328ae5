"""Names of a site: utility, transformers, linear load and capacitors."""

from __future__ import annotations

from collections.abc import Mapping

from xlcalc.core import plausible
from xlcalc.core.errors import InputError
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.owners import (
    IN_CAPACITOR_BANK,
    IN_PCC_OPTIONS,
    IN_STATIC_LOAD,
    IN_TRANSFORMER,
    IN_UTILITY,
)
from xlcalc.schema.inputs.quantities import (
    AMPS,
    BUS_KV,
    IMPEDANCE,
    KVA,
    LOW_VOLTS,
    MVA,
    POWER_FACTOR,
    SHIFT,
    X_OVER_R,
)
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.tables import NamedValues, normalised

SITE = NamedValues(
    (
        Field(
            "pcc", Choice(("utility side", "main bus")), "Where the limits are judged", default="utility side"
        ),
        Field("utility kv", BUS_KV, "Line-to-line voltage of the utility", fills=IN_UTILITY("volts", 1e3)),
        Field(
            "utility mva",
            MVA,
            "Three-phase short-circuit level of the utility, the greatest",
            fills=IN_UTILITY("short_circuit_va", 1e6),
        ),
        Field(
            "utility min mva",
            MVA,
            "Its least level, if another: verdicts hold for both; blank: the same",
            None,
            fills=IN_UTILITY("least_va", 1e6),
        ),
        Field(
            "utility x/r", X_OVER_R, "X/R of the utility supply", default=10.0, fills=IN_UTILITY("x_over_r")
        ),
        Field(
            "transformer kva", KVA, "Rating of the supply transformer", fills=IN_TRANSFORMER("rating_va", 1e3)
        ),
        Field(
            "transformer z pct",
            IMPEDANCE,
            "Impedance of the supply transformer",
            fills=IN_TRANSFORMER("impedance_pct"),
        ),
        Field(
            "transformer x/r",
            X_OVER_R,
            "X/R of the supply transformer",
            default=6.0,
            fills=IN_TRANSFORMER("x_over_r"),
        ),
        Field(
            "main bus volts",
            LOW_VOLTS,
            "Line-to-line voltage behind the supply transformer",
            fills=IN_TRANSFORMER("secondary_volts"),
        ),
        Field(
            "second transformer kva",
            KVA,
            "Rating of the transformer behind the main bus; blank: none",
            None,
            fills=IN_TRANSFORMER("rating_va", 1e3),
        ),
        Field(
            "second transformer z pct",
            IMPEDANCE,
            "Its impedance",
            None,
            fills=IN_TRANSFORMER("impedance_pct"),
        ),
        Field("second transformer x/r", X_OVER_R, "Its X/R", default=4.0, fills=IN_TRANSFORMER("x_over_r")),
        Field(
            "second transformer shift deg",
            SHIFT,
            "Its phase shift",
            default=0.0,
            fills=IN_TRANSFORMER("phase_shift_deg"),
        ),
        Field(
            "second bus volts",
            LOW_VOLTS,
            "Line-to-line voltage behind the second transformer",
            None,
            fills=IN_TRANSFORMER("secondary_volts"),
        ),
        Field(
            "linear load kw",
            Number(0, 1e6, "kW", usual=plausible.LOAD_KW),
            "Load without harmonics on the main bus",
            default=0.0,
            fills=IN_STATIC_LOAD("watts", 1e3),
        ),
        Field("linear load pf", POWER_FACTOR, "Its power factor, lagging", default=0.85),
        Field(
            "linear load model",
            Choice(("parallel", "series", "none")),
            "What it is to harmonics: R and L side by side, in series, or open",
            default="parallel",
            fills=IN_STATIC_LOAD("model"),
        ),
        Field(
            "capacitor mvar",
            Number(0, 1000, "Mvar", usual=plausible.BANK_MVAR),
            "Capacitors on the main bus, at its voltage; blank: none",
            None,
            fills=IN_CAPACITOR_BANK("rated_var", 1e6),
        ),
        Field(
            "capacitor detuning pct",
            Number(0, 50, "%", usual=plausible.DETUNING_PCT),
            "Series reactor of the capacitors, percent of their reactance; blank: none",
            default=0.0,
            fills=IN_CAPACITOR_BANK("reactor_pct"),
        ),
        Field(
            "demand amps",
            AMPS,
            "Maximum demand current; blank: from the loads",
            None,
            fills=IN_PCC_OPTIONS("demand_amps"),
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
