"""Whether values of a site fit each other, and drives what feeds them, within `xlcalc.network.plausible`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, Final

from xlcalc.network import plausible
from xlcalc.network.nodal import NodalNetwork
from xlcalc.worksheet.functions.link_power import link_watts

Values = Mapping[str, Any]
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
    network: NodalNetwork, rows: Sequence[Values], transformer: Callable[[str], str] | None = None
) -> None:
    """Drives against the transformers that feed them.

    Parameters
    ----------
    network : NodalNetwork
        With all its loads.
    rows : sequence of mapping
        Checked rows of `drives`; those on buses without supply are passed over.
    transformer : callable, optional
        The input that gives the rating of a transformer, from its name; without it "kva of NAME in table
        transformers".

    Raises
    ------
    InputError
        A drive is too large for its transformers, or all of them together by far.
    """
    feeding = plausible.feeding_kva(network)
    running = [row for row in rows if row["bus"] in feeding]
    for row in running:
        kilo = link_watts(row["rating"], row["unit"], row["efficiency pct"]) / 1e3
        plausible.check_load(
            f"rating of drive {row['tag']}", row["rating"], row["unit"], kilo, feeding[row["bus"]]
        )
    check_totals(network, ((row["bus"], _drawn_kw(row)) for row in running), transformer)


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


def _drawn_kw(row: Values) -> float:
    link = link_watts(row["rating"], row["unit"], row["efficiency pct"])
    return float(row["quantity"] * link * row["load pct"] / 1e5)
