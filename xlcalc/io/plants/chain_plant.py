"""A site of one supply described as a plant of buses, for the templates that hold one."""

from __future__ import annotations

from typing import Any, Final

from xlcalc.io.plants.site import Site
from xlcalc.network.chain import MAIN_BUS, SECOND_BUS, UTILITY_BUS
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS
from xlcalc.schema.tables import Values, normalised

HOUR_DEG: Final = 30.0
FREQUENCY: Final = "frequency hz"


def chain_content(site: Site, settings: Values) -> dict[str, Any]:
    """The content of the file of a plant with the buses "utility", "main" and, where given, "second".

    Parameters
    ----------
    site : Site
    settings : mapping
        Those that were typed.
    """
    values = site.site
    judged = UTILITY_BUS if values["pcc"] == "utility side" else MAIN_BUS
    buses: list[dict[str, Any]] = [
        {"name": UTILITY_BUS, "kv": values["utility kv"]},
        {"name": MAIN_BUS, "kv": values["main bus volts"] / 1e3},
    ]
    transformers = [_transformer(values, "", UTILITY_BUS, MAIN_BUS)]
    if values["second transformer kva"] is not None:
        buses.append({"name": SECOND_BUS, "kv": values["second bus volts"] / 1e3})
        transformers.append(_transformer(values, "second ", MAIN_BUS, SECOND_BUS))
    buses.sort(key=lambda bus: bus["name"] != judged)
    if values["demand amps"] is not None:
        buses[0]["demand amps"] = values["demand amps"]
    study = {normalised(name): value for name, value in site.study.items()}
    hz = {FREQUENCY: study.pop(FREQUENCY)} if FREQUENCY in study else {}
    utility = {"bus": UTILITY_BUS, "max mva": values["utility mva"], "x/r": values["utility x/r"]}
    cases = [{"name": "As described"}]
    if values["utility min mva"] is not None:
        utility["min mva"] = values["utility min mva"]
        cases = [{"name": "Maximum supply"}, {"name": "Minimum supply", "short circuit": "minimum"}]
    return {
        "study": study,
        "settings": {name: v for name, v in settings.items() if name in NETWORK_SETTINGS.defaults} | hz,
        "cases": cases,
        "buses": buses,
        "utility": [utility],
        "transformers": transformers,
        "loads": _loads(values),
        "capacitors": _capacitors(values),
    }


def _transformer(values: Values, which: str, feeds: str, fed: str) -> dict[str, Any]:
    shift = values["second transformer shift deg"] if which else 0.0
    hour = round(-shift / HOUR_DEG) % 12
    row = {
        "name": f"{which}transformer".capitalize(),
        "from bus": feeds,
        "to bus": fed,
        "vector group": f"Dyn{hour}" if hour % 2 else f"Dd{hour}",
        **{name: values[f"{which}transformer {name}"] for name in ("kva", "z pct", "x/r")},
    }
    return row if shift % HOUR_DEG == 0.0 else {**row, "shift deg": shift}


def _loads(values: Values) -> list[dict[str, Any]]:
    if not values["linear load kw"]:
        return []
    named = {name: values[f"linear load {name}"] for name in ("kw", "pf", "model")}
    return [{"name": "Linear load", "bus": MAIN_BUS, **named}]


def _capacitors(values: Values) -> list[dict[str, Any]]:
    if not values["capacitor mvar"]:
        return []
    row = {"name": "Capacitors", "bus": MAIN_BUS, "kvar": 1e3 * values["capacitor mvar"]}
    detuning = values["capacitor detuning pct"]
    return [{**row, "kind": "detuned", "reactor pct": detuning} if detuning else row]
