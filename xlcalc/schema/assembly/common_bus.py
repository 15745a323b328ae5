"""Several inverters on the direct-current bus of one front end: what the front end has to carry."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.network.from_rows import where
from xlcalc.schema.assembly.drive import efficiency_pct, shaft_watts, watts_of
from xlcalc.schema.inputs.quantities import LOAD_PCT
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import Tables, Values

TABLE: Final = "inverters"
FRONT_ENDS: Final = "active front ends"


def on_common_bus(rows: Sequence[Values], tables: Tables) -> list[Values]:
    """Rows of a schedule, those with inverters in the table at the load that these make.

    Raises
    ------
    InputError
        As `loads_on_common_bus`.
    """
    loads = loads_on_common_bus(rows, tables)
    return [{**row, "load pct": loads[str(row["tag"])]} if str(row["tag"]) in loads else row for row in rows]


def loads_on_common_bus(rows: Iterable[Mapping[str, Any]], tables: Tables) -> dict[str, float]:
    """Load of every drive that feeds inverters on a common bus, percent of its DC-link power.

    Parameters
    ----------
    rows : iterable of mapping
        Drives of the schedule, with tag, quantity, rating, unit and efficiency.
    tables : mapping
        With ``inverters`` and ``active front ends``.

    Raises
    ------
    InputError
        No such front end, several units of one, or a power that a diode front end does not pass: fed back,
        next to nothing, or above twice its rating.
    """
    listed = tables.get(TABLE, ())
    if not listed:
        return {}
    by_tag = {str(row["tag"]): row for row in rows}
    active = [row["name"] for row in tables.get(FRONT_ENDS, ())]
    for line in listed:
        if line["front end"] not in by_tag and line["front end"] not in active:
            known = [*by_tag, *active]
            raise InputError(
                where("front end", line, TABLE),
                line["front end"],
                one_of(known, line["front end"]),
                wrong_kind=True,
            )
    found = {}
    volts = {row["name"]: 1e3 * row["kv"] for row in tables["buses"]}
    for tag, kilowatts in totals(listed).items():
        row = by_tag.get(tag)
        if row is None:
            continue
        first = next(line for line in listed if line["front end"] == tag)
        if row["quantity"] != 1:
            valid = f"a front end of quantity 1; {tag} has {row['quantity']:g}"
            raise InputError(where("front end", first, TABLE), tag, valid)
        rating = {**row, "efficiency pct": _given(row["efficiency pct"])}
        rated = watts_of(rating, volts.get(str(row["bus"]), 0.0)) / 1e3
        load = 100.0 * kilowatts / rated
        if not LOAD_PCT.low <= load <= LOAD_PCT.high:
            valid = (
                f"inverters of {tag} that take {LOAD_PCT.low:g} to {LOAD_PCT.high:g} % of its {rated:.4g} kW "
                f"together; they take {kilowatts:.4g} kW, and a diode front end feeds nothing back"
            )
            raise InputError(where("load pct", first, TABLE), first["load pct"], valid)
        found[tag] = load
    return found


def totals(listed: Iterable[Mapping[str, Any]]) -> dict[str, float]:
    """Power that all inverters of a front end take from its bus, kW; what some feed back others take.

    A braking inverter gives back its shaft power less its losses.

    Examples
    --------
    Two of 100 kW at 90 %, one at 90 % load, one braking at 40 %: 100 - 36 kW

    >>> one = {"front end": "F", "quantity": 1, "kw": 100.0, "efficiency pct": 90.0}
    >>> totals([{**one, "load pct": 90.0}, {**one, "load pct": -40.0}])
    {'F': 64.0}
    """
    found: dict[str, float] = {}
    for line in listed:
        share = efficiency_pct(line["kw"], "kW", line["efficiency pct"]) / 100.0
        shaft = line["quantity"] * shaft_watts(line["kw"], "kW") / 1e3 * line["load pct"] / 100.0
        link = shaft / share if shaft > 0.0 else shaft * share
        found[line["front end"]] = found.get(line["front end"], 0.0) + link
    return found


def _given(efficiency: float | None) -> float | None:
    """A blank cell of a table of rows may be NaN."""
    return None if efficiency is None or efficiency != efficiency else efficiency
