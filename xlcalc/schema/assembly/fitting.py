"""Whether values of a site fit each other, and drives what feeds them, within `xlcalc.network.plausible`."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from typing import Final

from xlcalc.core.errors import InputError
from xlcalc.core.plausible import Stated
from xlcalc.network import plausible
from xlcalc.network.chain import MAIN_BUS, SECOND_BUS
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.drive import watts_of
from xlcalc.schema.tables import Values
from xlcalc.studies.verdict.demand import ABOVE_RATING

SITE_VOLTS: Final = {MAIN_BUS: "main bus volts in site", SECOND_BUS: "second bus volts in site"}
"""Inputs that give the voltages of the buses of a site."""

SITE_TRANSFORMERS: Final = {
    "supply transformer": "transformer kva in site",
    "second transformer": "second transformer kva in site",
}
"""What the transformers of a site are called in its network, and the input that gives their rating."""


def check_site(site: Values) -> None:
    """Values of `site` against each other.

    Raises
    ------
    InputError
        Units or cells were probably mixed up; the message names the value.
    """
    kv, mva, kva = site["utility kv"], site["utility mva"], site["transformer kva"]
    what = f"the transformer of {kva:g} kVA"
    plausible.check_high_voltage("utility kv in site", kv, kva, what)
    plausible.check_fault_level("utility mva in site", mva, kv)
    least = site["utility min mva"]
    if least is not None:
        plausible.check_fault_level("utility min mva in site", least, kv)
        if least > mva:
            raise InputError("utility min mva in site", least, f"up to the {mva:g} MVA of utility mva")
    for place in (kv, site["main bus volts"] / 1e3):
        plausible.check_rating("transformer kva in site", "kVA", kva, place, mva)
    plausible.check_not_mega("transformer kva in site", kva, kv)
    plausible.check_step_up("main bus volts in site", site["main bus volts"], kv)
    load = site["linear load kw"]
    plausible.check_load("linear load kw in site", load, "kW", load / site["linear load pf"], kva)
    second = site["second transformer kva"]
    if second is not None:
        plausible.check_load("second transformer kva in site", second, "kVA", second, kva)
    mvar = site["capacitor mvar"]
    if mvar:
        plausible.check_load("capacitor mvar in site", mvar, "Mvar", 1e3 * mvar, kva)


def check_drives(
    network: NodalNetwork,
    rows: Sequence[Values],
    transformer: Callable[[str], str] | None = None,
    voltage: Callable[[str], str] | None = None,
    meant: Collection[str] = (),
) -> None:
    """Drives against the voltage of their buses and the transformers that feed them.

    Parameters
    ----------
    network : NodalNetwork
        With all its loads.
    rows : sequence of mapping
        Checked rows of `drives`; those on buses without supply are passed over.
    transformer : callable, optional
        The input that gives the rating of a transformer, from its name; without it "kva of NAME in table
        transformers".
    voltage : callable, optional
        The input that gives the voltage of a bus, from its name; without it "kv of NAME in table buses".
    meant : collection of str
        Buses whose voltage was written with its unit: drives may be however small there.

    Raises
    ------
    InputError
        A drive is too small for its voltage or too large for its transformers, or all together by far.
    """
    feeding = plausible.feeding_kva(network)
    running = [row for row in rows if row["bus"] in feeding]
    for row in running:
        kilo = watts_of(row, network.volts(row["bus"])) / 1e3
        plausible.check_load(
            f"rating of drive {row['tag']}", row["rating"], row["unit"], kilo, feeding[row["bus"]]
        )
    for bus in {row["bus"] for row in running} - set(meant):
        _check_voltage(network, bus, [row for row in running if row["bus"] == bus], voltage)
    check_totals(network, ((row["bus"], _drawn_kw(row, network)) for row in running), transformer)


def _check_voltage(
    network: NodalNetwork, bus: str, rows: Sequence[Values], voltage: Callable[[str], str] | None
) -> None:
    """Drives on one bus against its voltage: several small ones doubt the voltage, a single one its bus."""
    kv = network.volts(bus) / 1e3
    kilo = [watts_of(row, 1e3 * kv) / 1e3 for row in rows]
    if len(rows) > 1 and not any(plausible.suits_voltage(each, kv) for each in kilo):
        name = voltage(bus) if voltage is not None else f"kv of {bus} in table buses"
        shown = 1e3 * kv if "volts" in name else kv
        valid = f"up to 1 kV, because drives of {max(kilo):.3g} kW and less stand on it {plausible.MEANT}"
        raise InputError(name, shown, valid)
    for row, each in zip(rows, kilo, strict=True):
        plausible.check_drive_bus(f"bus of drive {row['tag']}", bus, each, kv)


def meant_buses(site: Values) -> frozenset[str]:
    """Buses of a site whose voltage was written with its unit."""
    volts = {MAIN_BUS: site["main bus volts"], SECOND_BUS: site["second bus volts"]}
    return frozenset(bus for bus, value in volts.items() if isinstance(value, Stated))


def meant_buses_of_plant(tables: Mapping[str, Sequence[Values]]) -> frozenset[str]:
    """The same for the tables of a network."""
    return frozenset(row["name"] for row in tables["buses"] if isinstance(row["kv"], Stated))


def check_estimated(settings: Values, kv: float, rated_kva: float) -> None:
    """The largest fundamental at a PCC over all cases, which nobody but the sheets themselves need give.

    Parameters
    ----------
    settings : mapping
        Checked values of `settings`.
    kv : float
        Voltage of the PCC.
    rated_kva : float
        Ratings of everything in the plant, whatever is in service: no case draws more.

    Raises
    ------
    InputError
        It is above 1.5 times that.
    """
    amps = settings["demand amps estimated"]
    most = ABOVE_RATING * rated_kva / (math.sqrt(3.0) * kv)
    if amps is not None and amps > most:
        valid = f"up to {most:.4g} A, {ABOVE_RATING:g} times the ratings of the plant; it is no typed IL"
        raise InputError("demand amps estimated in settings", amps, valid)


def drives_kva(rows: Sequence[Values], volts: Mapping[str, float]) -> float:
    """Rated link power of all drives, kW or kVA; `volts` of the buses by name."""
    total = 0.0
    for row in rows:
        watts = watts_of(row, volts.get(row["bus"], 0.0))
        total += row["quantity"] * watts * max(1.0, row["load pct"] / 100.0)
    return total / 1e3


def check_totals(
    network: NodalNetwork,
    drives: Iterable[tuple[str, float]],
    transformer: Callable[[str], str] | None = None,
) -> None:
    """All drives, as pairs of bus and kW, and other loads together; raises as `check_drives`."""
    name = transformer or (lambda known: f"kva of {known} in table transformers")
    loads = plausible.other_loads(network)
    for names, kva, total in plausible.transformer_totals(network, [*loads, *drives]):
        plausible.check_total(name(names[0]), kva, total)


def _drawn_kw(row: Values, network: NodalNetwork) -> float:
    link = watts_of(row, network.volts(row["bus"]))
    return float(row["quantity"] * link * row["load pct"] / 1e5)
