"""Active and regenerative front ends of a plant from checked rows: their current, and their filter."""

from __future__ import annotations

import cmath
import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from xlcalc.core.errors import InputError
from xlcalc.network.capacitors import LCLFilter
from xlcalc.network.from_rows import check_percent, known_bus, lists_all_orders, where
from xlcalc.network.loads import HarmonicCurrent, SpectrumLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.plausible import check_rating
from xlcalc.schema.assembly.common_bus import FRONT_ENDS as TABLE
from xlcalc.schema.assembly.common_bus import TABLE as INVERTERS
from xlcalc.schema.assembly.common_bus import totals
from xlcalc.schema.tables import Tables, Values

SPECTRA: Final = "spectra"


def with_front_ends(network: NodalNetwork, tables: Tables) -> NodalNetwork:
    """The network with its active front ends: a load with its own spectrum, and a filter, for each.

    In standby the filter alone is there.

    Raises
    ------
    InputError
        A bus, a power or a spectrum does not fit; the message names column, row and table.
    """
    rows = tables.get(TABLE, ())
    if not rows:
        return network
    kv = {row["name"]: row["kv"] for row in tables["buses"]}
    most = tables["utility"][0]["max mva"]
    loads, filters = [], []
    on_bus = totals(tables.get(INVERTERS, ()))
    for given in rows:
        row = _with_power(given, on_bus)
        bus = known_bus(row, "bus", TABLE, kv)
        check_rating(where("kva", row, TABLE), "kVA", row["kva"], kv[bus], most)
        _check_power(row)
        if row["filter kvar"]:
            filters.append(_filter(row, bus, 1e3 * kv[bus]))
        lines = [line for line in tables.get(SPECTRA, ()) if line["load"] == row["name"]]
        if row["state"] == "running" and (row["kw"] or row["kvar"]):
            loads.append(_load(row, bus, lines))
    return replace(network, loads=(*network.loads, *loads), capacitors=(*network.capacitors, *filters))


def _with_power(row: Values, on_bus: Mapping[str, float]) -> Values:
    """The row with the power of the inverters on its bus."""
    own = row["name"] in on_bus
    if own and row["kw"] is not None:
        raise InputError(where("kw", row, TABLE), row["kw"], "blank, because inverters stand on its DC bus")
    if not own and row["kw"] is None:
        raise InputError(where("kw", row, TABLE), None, "a number, or rows in the table of inverters")
    return {**row, "kw": on_bus[row["name"]]} if own else row


def filter_name(name: str) -> str:
    """What the filter of a front end is called among the elements of the network."""
    return f"{name} filter"


def parts_off(names: Iterable[str], tables: Tables, network: NodalNetwork) -> list[str]:
    """Names of what is out of service, a front end taken with its filter."""
    own = {row["name"] for row in tables.get(TABLE, ())}
    there = {element.name for element in network.elements}
    found = []
    for name in names:
        parts = [part for part in (name, filter_name(name)) if part in there] if name in own else [name]
        found += parts
    return found


def _check_power(row: Values) -> None:
    """Active and reactive current share the rating."""
    left = math.sqrt(max(0.0, row["kva"] ** 2 - row["kw"] ** 2))
    if abs(row["kw"]) > row["kva"]:
        raise InputError(
            where("kw", row, TABLE), row["kw"], f"-{row['kva']:g} to {row['kva']:g} kW, its rating"
        )
    if abs(row["kvar"]) > left * (1.0 + 1e-9):
        valid = f"-{left:.4g} to {left:.4g} kvar, what {row['kw']:g} kW leave of {row['kva']:g} kVA"
        raise InputError(where("kvar", row, TABLE), row["kvar"], valid)


def _filter(row: Values, bus: str, volts: float) -> LCLFilter:
    base = volts**2 / (1e3 * row["kva"])
    if row["filter kvar"] > 0.5 * row["kva"]:
        valid = f"up to {0.5 * row['kva']:g} kvar, half the rating"
        raise InputError(where("filter kvar", row, TABLE), row["filter kvar"], valid)
    return LCLFilter(
        filter_name(row["name"]),
        bus,
        1e3 * row["filter kvar"],
        volts,
        line_ohms=row["line reactor pct"] / 100.0 * base,
        damping_ohms=row["damping pct"] / 100.0 * base,
    )


def _load(row: Values, bus: str, lines: Sequence[Values]) -> SpectrumLoad:
    if not lines:
        valid = f"rows of {row['name']} in the table of spectra, or standby"
        raise InputError(where("state", row, TABLE), "running", valid)
    sources = dict.fromkeys(str(line["source"]).strip() for line in lines if line["source"])
    if not sources:
        valid = "where the spectrum comes from: data sheet, measurement, handbook"
        raise InputError(where("source", lines[0], SPECTRA), None, valid)
    check_percent(lines)
    load_pct = 100.0 * math.hypot(row["kw"], row["kvar"]) / row["kva"]
    return SpectrumLoad(
        name=row["name"],
        bus=bus,
        watts=1e3 * row["kw"],
        var=-1e3 * row["kvar"],
        harmonics=residual_at(lines, load_pct),
        source="; ".join(sources),
        complete=lists_all_orders(row, lines),
    )


def residual_at(lines: Sequence[Mapping[str, Any]], load_pct: float) -> tuple[HarmonicCurrent, ...]:
    """The residual spectrum at a load, percent of the fundamental there.

    Between two loads of the table amperes are interpolated, as phasors where both angles are known. An order
    that one load names and another does not is taken for zero there; no PASS rests on it unless
    `orders not listed` says so.

    Parameters
    ----------
    lines : sequence of mapping
        ``order``, ``percent``, ``deg``, ``load pct``; the last blank in all of them holds at any load.
    load_pct : float
        Apparent power in percent of the rating, above 0.

    Raises
    ------
    InputError
        The load lies outside those of the table, an order twice, or a blank load among others.

    Examples
    --------
    8 % at a quarter and 4 % at full load are 2 and 4 % of rated: 3 % of rated at 62.5 % load

    >>> pairs = ((8.0, 25.0), (4.0, 100.0))
    >>> table = [{"order": 5, "percent": pct, "deg": None, "load pct": load} for pct, load in pairs]
    >>> residual_at(table, 62.5)[0].percent
    4.8
    """
    blank = [line for line in lines if line["load pct"] is None]
    if blank and len(blank) < len(lines):
        raise InputError(where("load pct", blank[0], SPECTRA), None, "a load, as the other rows have")
    at: dict[float, dict[int, Mapping[str, Any]]] = {}
    for line in lines:
        orders = at.setdefault(load_pct if blank else line["load pct"], {})
        if line["order"] in orders:
            raise InputError(
                where("order", line, SPECTRA), f"{line['order']} twice", "each order once a load"
            )
        orders[line["order"]] = line
    loads = sorted(at)
    if not loads[0] - 1e-9 <= load_pct <= loads[-1] + 1e-9:
        least, most = loads[0], loads[-1]
        valid = f"loads around the {load_pct:.4g} % at which it runs; they cover {least:g} to {most:g} %"
        raise InputError(where("load pct", lines[0], SPECTRA), most, valid)
    found = []
    for order in sorted({order for orders in at.values() for order in orders}):
        known = all(at[load][order]["deg"] is not None for load in loads if order in at[load])
        amps = [_amps(at[load].get(order), load, known) for load in loads]
        here = complex(np.interp(load_pct, loads, np.array(amps).real)) + 1j * float(
            np.interp(load_pct, loads, np.array(amps).imag)
        )
        degrees = math.degrees(cmath.phase(here)) if known else None
        found.append(HarmonicCurrent(order, abs(here) / load_pct * 100.0, degrees))
    return tuple(found)


def _amps(line: Mapping[str, Any] | None, load: float, known: bool) -> complex:
    """Percent of the rated current."""
    if line is None:
        return 0j
    turn = cmath.exp(1j * math.radians(line["deg"])) if known else 1.0
    return complex(line["percent"] * load / 100.0 * turn)


def stays_connected(network: NodalNetwork) -> Collection[str]:
    """Capacitors that are no banks to be switched: filters of front ends."""
    return {capacitor.name for capacitor in network.capacitors if isinstance(capacitor, LCLFilter)}
