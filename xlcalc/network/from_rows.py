"""A network from rows of a table: one mapping per element, in kV, kVA, kW, kvar, percent and metres."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Literal

from xlcalc.core import plausible
from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import MAX_ORDER
from xlcalc.network.branches import Line, TransformerBranch
from xlcalc.network.capacitors import Capacitive, CapacitorBank, CTypeFilter, DampedFilter, TunedFilter
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import MOST_PCT, Generator, HarmonicCurrent, MotorLoad, SpectrumLoad, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.network.plausible import (
    check_fault_level,
    check_high_voltage,
    check_load,
    check_not_mega,
    check_output,
    check_rating,
    feeding_kva,
)
from xlcalc.network.sequence import own_shift_deg, phase_shift_deg, three_winding_groups, zero_sequence_passes
from xlcalc.network.three_winding import WINDINGS, ThreeWindingTransformer, WindingPair
from xlcalc.network.topology import Bus

Row = Mapping[str, Any]
Tables = Mapping[str, Sequence[Row]]

RATED = (
    ("transformers", ("from bus", "to bus"), "kva"),
    ("three-winding transformers", tuple(f"{winding} bus" for winding in WINDINGS), "kva"),
    ("capacitors", ("bus",), "kvar"),
    ("loads", ("bus",), "kw"),
    ("generators", ("bus",), "kva"),
)
UNITS = {"kva": "kVA", "kvar": "kvar", "kw": "kW"}
FILTERS: dict[str, type[TunedFilter | DampedFilter | CTypeFilter]] = {
    "tuned": TunedFilter,
    "damped": DampedFilter,
    "c-type": CTypeFilter,
}


def network_from_rows(
    tables: Tables,
    short_circuit: Literal["maximum", "minimum"] = "maximum",
    hz: float = 60.0,
    resistance_exponent: float = 0.0,
    supply: Mapping[str, Any] | None = None,
) -> NodalNetwork:
    """The network that the tables describe, all of it in service.

    Parameters
    ----------
    tables : mapping of sequences of mappings
        Rows of ``buses`` (name, kv), ``utility`` (one row: bus, max mva, min mva, x/r), ``transformers``,
        ``three-winding transformers``, ``cables``, ``capacitors``, ``loads``, ``generators`` and ``spectra``.
        The keys ``row`` and ``columns`` (letter by column) tell where a value stands.
    short_circuit : {"maximum", "minimum"}
        Which short-circuit level of the utility holds.
    hz, resistance_exponent : float
        As in `NodalNetwork`.
    supply : mapping, optional
        Background and unbalance, as `Utility` takes them.

    Raises
    ------
    InputError
        A name, a bus or a value does not fit; the message names column, row and table.
    """
    kv = {row["name"]: row["kv"] for row in tables["buses"]}
    most = tables["utility"][0]["max mva"]
    _check_bus_volts(tables)
    spectra = _spectra(tables)
    utility_bus, utility = _supply(tables, kv, short_circuit, supply or {})
    network = NodalNetwork(
        utility=utility,
        utility_bus=utility_bus,
        nodes=tuple(Bus(name, 1e3 * volts) for name, volts in kv.items()),
        branches=(
            *(_transformer(row, kv, most) for row in tables["transformers"]),
            *(
                pair
                for row in tables.get("three-winding transformers", ())
                for pair in _three_winding(row, kv, most)
            ),
            *(_cable(row, kv, hz) for row in tables["cables"]),
        ),
        capacitors=tuple(_capacitor(row, kv, most) for row in tables["capacitors"]),
        loads=tuple(_load(row, kv, most, spectra) for row in tables["loads"]),
        generators=tuple(_generator(row, kv, most) for row in tables["generators"]),
        hz=hz,
        resistance_exponent=resistance_exponent,
    )
    _check_loads(tables, network)
    return network


def where(column: str, row: Row, table: str) -> str:
    """Column, row and table of a value, as an error names them."""
    letter = row.get("columns", {}).get(column)
    cell = f"cell {letter}{row['row']}, " if letter else ""
    place = f"{cell}row {row['row']} of " if "row" in row else ""
    return f"{column} of {row.get('name', row.get('bus', row.get('load')))} in {place}table {table}"


def known_bus(row: Row, column: str, table: str, kv: Mapping[str, float]) -> str:
    """The bus that a column names.

    Raises
    ------
    InputError
        No such bus.
    """
    bus = str(row[column])
    if bus not in kv:
        raise InputError(where(column, row, table), bus, "one of " + ", ".join(kv), wrong_kind=True)
    return bus


def _supply(
    tables: Tables, kv: Mapping[str, float], short_circuit: str, supply: Mapping[str, Any]
) -> tuple[str, Utility]:
    row = tables["utility"][0]
    if len(tables["utility"]) > 1:
        extra = tables["utility"][1]
        raise InputError(where("bus", extra, "utility"), "a second supply", "one row", wrong_kind=True)
    bus = known_bus(row, "bus", "utility", kv)
    least, most = row["min mva"], row["max mva"]
    if least is not None and least > most:
        raise InputError(where("min mva", row, "utility"), least, f"up to the {most:g} MVA of max mva")
    for column in ("max mva", "min mva"):
        if row[column] is not None:
            check_fault_level(where(column, row, "utility"), row[column], kv[bus])
    level = most if short_circuit == "maximum" or least is None else least
    return bus, Utility(1e3 * kv[bus], 1e6 * level, row["x/r"], **supply)


def _transformer(row: Row, kv: Mapping[str, float], most: float) -> TransformerBranch:
    ends = tuple(known_bus(row, column, "transformers", kv) for column in ("from bus", "to bus"))
    primary, secondary = (
        row[column] if row[column] is not None else kv[bus]
        for column, bus in zip(("primary kv", "secondary kv"), ends, strict=True)
    )
    for column, volts, bus in (("primary kv", primary, ends[0]), ("secondary kv", secondary, ends[1])):
        _close(row, column, volts, bus, "transformers", kv)
    for volts in (primary, secondary):
        _plausible(row, "kva", row["kva"], volts, "transformers", most)
    check_not_mega(where("kva", row, "transformers"), row["kva"], primary)
    try:
        shift = own_shift_deg(row["vector group"], row.get("shift deg"))
    except InputError as problem:
        column = problem.argument.replace("_", " ")
        wrong_kind = column == "vector group"
        raise InputError(
            where(column, row, "transformers"), row[column], problem.valid, wrong_kind=wrong_kind
        ) from None
    rated = Transformer(
        rating_va=1e3 * row["kva"],
        impedance_pct=row["z pct"],
        x_over_r=row["x/r"],
        primary_volts=1e3 * primary,
        secondary_volts=1e3 * secondary,
        phase_shift_deg=shift,
    )
    passes = zero_sequence_passes(row["vector group"])
    return TransformerBranch(
        name=row["name"],
        from_bus=ends[0],
        to_bus=ends[1],
        transformer=rated,
        tap_pct=row["tap pct"],
        zero_sequence=passes,
    )


def _three_winding(row: Row, kv: Mapping[str, float], most: float) -> tuple[WindingPair, ...]:
    table = "three-winding transformers"
    buses = tuple(known_bus(row, f"{winding} bus", table, kv) for winding in WINDINGS)
    volts = []
    for winding, bus in zip(WINDINGS, buses, strict=True):
        column = f"{winding} kv"
        volts.append(row[column] if row[column] is not None else kv[bus])
        _close(row, column, volts[-1], bus, table, kv)
        _plausible(row, "kva", row["kva"], volts[-1], table, most)
        if buses.count(bus) > 1:
            raise InputError(where(f"{winding} bus", row, table), bus, "another bus for each winding")
    least, most = ThreeWindingTransformer.passive_range(row["z ps pct"], row["z pt pct"])
    if not least < row["z st pct"] < most:
        valid = f"above {least:.4g} and below {most:.4g} with the other two"
        raise InputError(where("z st pct", row, table), row["z st pct"], valid)
    try:
        groups = three_winding_groups(row["vector group"])
        shifts = tuple(phase_shift_deg(group) for group in groups)
    except InputError as problem:
        place = where("vector group", row, table)
        raise InputError(place, row["vector group"], problem.valid, wrong_kind=True) from None
    return ThreeWindingTransformer(
        name=row["name"],
        buses=(buses[0], buses[1], buses[2]),
        rating_va=1e3 * row["kva"],
        z_ps_pct=row["z ps pct"],
        z_pt_pct=row["z pt pct"],
        z_st_pct=row["z st pct"],
        x_over_r=row["x/r"],
        volts=(1e3 * volts[0], 1e3 * volts[1], 1e3 * volts[2]),
        shifts_deg=(shifts[0], shifts[1]),
        tap_pct=row["tap pct"],
        zero_sequence=(zero_sequence_passes(groups[0]), zero_sequence_passes(groups[1])),
    ).pairs()


def _cable(row: Row, kv: Mapping[str, float], hz: float) -> Line:
    start, end = (known_bus(row, column, "cables", kv) for column in ("from bus", "to bus"))
    _close(row, "to bus", kv[end], start, "cables", kv)
    kilometres = row["length m"] / 1e3
    resistance, reactance = (kilometres * row[column] for column in ("r ohm per km", "x ohm per km"))
    if resistance + reactance == 0.0:
        name = where("r ohm per km", row, "cables")
        raise InputError(name, 0.0, "above 0, or above 0 in x ohm per km: no zero impedance")
    farads = 1e-6 * kilometres * row["c uf per km"]
    charging = 2.0 * math.pi * hz * farads
    return Line(
        name=row["name"],
        from_bus=start,
        to_bus=end,
        resistance=resistance,
        reactance=reactance,
        charging=charging,
        parallel=row["parallel"],
    )


def _capacitor(row: Row, kv: Mapping[str, float], most: float) -> Capacitive:
    bus = known_bus(row, "bus", "capacitors", kv)
    rated = row["rated kv"] if row["rated kv"] is not None else kv[bus]
    if not 0.9 * kv[bus] <= rated <= 2.0 * kv[bus]:
        raise InputError(
            where("rated kv", row, "capacitors"), rated, f"0.9 to 2 times the {kv[bus]:g} kV of bus {bus}"
        )
    _plausible(row, "kvar", row["kvar"], kv[bus], "capacitors", most)
    common = (row["name"], bus, 1e3 * row["kvar"], 1e3 * rated)
    kind = row["kind"]
    needed = {"bank": None, "detuned": "reactor pct"}.get(kind, "tuned order")
    for column in ("reactor pct", "tuned order", "quality"):
        used = column == needed or (column == "quality" and kind in FILTERS)
        if column == needed and row[column] is None:
            raise InputError(where(column, row, "capacitors"), None, f"a value, because its kind is {kind}")
        if not used and row[column] is not None:
            raise InputError(
                where(column, row, "capacitors"), row[column], f"blank, because its kind is {kind}"
            )
    if kind == "bank":
        return CapacitorBank(*common)
    if kind == "detuned":
        return CapacitorBank(*common, reactor_pct=row["reactor pct"])
    quality = {} if row["quality"] is None else {"quality": row["quality"]}
    return FILTERS[kind](*common, tuned_order=row["tuned order"], **quality)


def _load(
    row: Row, kv: Mapping[str, float], most: float, spectra: Mapping[str, Sequence[Row]]
) -> StaticLoad | MotorLoad | SpectrumLoad:
    bus = known_bus(row, "bus", "loads", kv)
    _plausible(row, "kw", row["kw"], kv[bus], "loads", most)
    watts = 1e3 * row["kw"]
    if row["kind"] == "motor":
        return MotorLoad(row["name"], bus, watts, row["pf"], row["starting ratio"])
    var = watts * math.tan(math.acos(row["pf"]))
    if row["kind"] == "spectrum":
        return _spectrum_load(row, bus, complex(watts, var), spectra.get(row["name"], ()))
    return StaticLoad(row["name"], bus, watts, var, row["model"])


def _spectra(tables: Tables) -> dict[str, list[Row]]:
    """Rows of the table of spectra by load."""
    known = {row["name"] for row in tables["loads"] if row["kind"] == "spectrum"}
    front_ends = {row["name"] for row in tables.get("active front ends", ())}
    found: dict[str, list[Row]] = {}
    for row in tables.get("spectra", ()):
        if row["load"] in front_ends:
            continue
        if row["load"] not in known:
            valid = "one of " + ", ".join(sorted(known)) if known else "a load whose kind is spectrum"
            raise InputError(where("load", row, "spectra"), row["load"], valid, wrong_kind=True)
        found.setdefault(row["load"], []).append(row)
    for rows in found.values():
        check_percent(rows)
    return found


def check_percent(rows: Sequence[Row]) -> None:
    """Raises `InputError` for a spectrum of which even the largest order is a fraction of a percent."""
    largest = max(rows, key=lambda row: float(row["percent"]))
    told = plausible.slip(largest["percent"], "%", plausible.SPECTRUM_PCT, 0.0, MOST_PCT)
    if told:
        name = where("percent", largest, "spectra")
        raise InputError(name, largest["percent"], f"the largest order {told}")


def lists_all_orders(row: Row, lines: Sequence[Row]) -> bool:
    """Whether the spectrum of an element is known to order 50: those not listed are zero, or none is lacking.

    Parameters
    ----------
    row : mapping
        The element, with ``orders not listed``.
    lines : sequence of mapping
        Its rows in the table of spectra, with ``order`` and ``load pct``. Each load has to list all orders.
    """
    listed: dict[Any, set[int]] = {}
    for line in lines:
        listed.setdefault(line.get("load pct"), set()).add(line["order"])
    every = set(range(2, MAX_ORDER + 1))
    return row["orders not listed"] == "zero" or all(orders >= every for orders in listed.values())


def _spectrum_load(row: Row, bus: str, power: complex, orders: Sequence[Row]) -> SpectrumLoad:
    if not orders:
        name = where("kind", row, "loads")
        raise InputError(name, "spectrum", f"rows of {row['name']} in the table of spectra, or another kind")
    seen: set[int] = set()
    for line in orders:
        if line["order"] in seen:
            raise InputError(where("order", line, "spectra"), f"{line['order']} twice", "each order once")
        if line.get("load pct") is not None:
            valid = "blank: a load of kind spectrum has one; an active front end may have several"
            raise InputError(where("load pct", line, "spectra"), line["load pct"], valid)
        seen.add(line["order"])
    sources = dict.fromkeys(str(line["source"]).strip() for line in orders if line["source"])
    if not sources:
        valid = "where the spectrum comes from: data sheet, measurement, handbook"
        raise InputError(where("source", orders[0], "spectra"), None, valid)
    return SpectrumLoad(
        name=row["name"],
        bus=bus,
        watts=power.real,
        var=power.imag,
        harmonics=tuple(HarmonicCurrent(line["order"], line["percent"], line["deg"]) for line in orders),
        source="; ".join(sources),
        complete=lists_all_orders(row, orders),
    )


def _generator(row: Row, kv: Mapping[str, float], most: float) -> Generator:
    bus = known_bus(row, "bus", "generators", kv)
    rated = row["rated kv"] if row["rated kv"] is not None else kv[bus]
    _close(row, "rated kv", rated, bus, "generators", kv)
    _plausible(row, "kva", row["kva"], rated, "generators", most)
    column = "kw" if row["kw"] >= abs(row["kvar"]) else "kvar"
    check_output(where(column, row, "generators"), row[column], (row["kw"], row["kvar"]), row["kva"])
    return Generator(
        name=row["name"],
        bus=bus,
        rating_va=1e3 * row["kva"],
        rated_volts=1e3 * rated,
        subtransient_pct=row["subtransient pct"],
        x_over_r=row["x/r"],
        watts=1e3 * row["kw"],
        var=1e3 * row["kvar"],
        leading_pct=row.get("leading pct"),
    )


def _close(row: Row, column: str, volts: float, bus: str, table: str, kv: Mapping[str, float]) -> None:
    if abs(volts / kv[bus] - 1.0) > 0.10:
        raise InputError(where(column, row, table), volts, f"within 10 % of the {kv[bus]:g} kV of bus {bus}")


def _plausible(row: Row, column: str, kilo: float, kv: float, table: str, supply_mva: float) -> None:
    check_rating(where(column, row, table), UNITS[column], kilo, kv, supply_mva)


def _check_loads(tables: Tables, network: NodalNetwork) -> None:
    """Refuse loads and capacitors that are too large for the transformers and generators that feed them."""
    feeding = feeding_kva(network)
    for table, column in (("loads", "kw"), ("capacitors", "kvar")):
        for row in tables[table]:
            place, value = where(column, row, table), row[column]
            check_load(place, value, UNITS[column], value / row.get("pf", 1.0), feeding[row["bus"]])


def _check_bus_volts(tables: Tables) -> None:
    """Refuse high voltage at a bus on which something small stands."""
    ratings = [
        (row[side], row[column], f"{row['name']} of {row[column]:g} {UNITS[column]}")
        for table, sides, column in RATED
        for row in tables.get(table, ())
        for side in sides
    ]
    for row in tables["buses"]:
        for bus, kilo, what in ratings:
            if bus == row["name"]:
                check_high_voltage(where("kv", row, "buses"), row["kv"], kilo, what)
