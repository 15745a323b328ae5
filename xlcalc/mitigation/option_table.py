"""Options from the user's tables: what there is, prices by rating, residual spectra."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeVar

from xlcalc.errors import InputError
from xlcalc.mitigation.bank_options import BANK_KINDS, BankOption
from xlcalc.mitigation.curves import Curve, Formula, Points
from xlcalc.mitigation.economics import Losses
from xlcalc.mitigation.options import ActiveFilter, DriveOption
from xlcalc.mitigation.physics import Bridge, Physics, Residual, ResidualLine
from xlcalc.mitigation.sheet import Record, Sheet
from xlcalc.plausible import (
    BANK_KVAR,
    DETUNING_PCT,
    DRIVE_REACTOR_PCT,
    FILTER_CAPACITOR_PCT,
    LEAKAGE_PCT,
    REACTOR_PCT,
)
from xlcalc.rectifier.passive_filter import FilterRating

T = TypeVar("T")
Rows = dict[str, list[tuple[Record, float, float]]]

BRIDGE: Final = "bridge"
RESIDUAL: Final = "residual spectrum"
FILTER: Final = "active filter"
PASSIVE: Final = "passive filter"
KINDS: Final = (BRIDGE, PASSIVE, RESIDUAL, FILTER, *BANK_KINDS)

OPTION_HEADINGS: Final = (
    "option",
    "kind",
    "pulses",
    "line reactor pct",
    "dc choke pct",
    "transformer pct",
    "percent of",
    "orders not listed",
    "basis",
    "rated amps",
    "filter capacitor pct",
    "filter reactor pct",
    "filter reactor x/r",
    "filter tuned order",
    "filter shunt resistance pct",
    "filter damping pct",
    "kvar",
    "rated kv",
    "bank reactor pct",
    "tuned order",
    "quality",
    "price a",
    "price b",
    "price c",
    "fixed loss pct",
    "load loss pct",
    "loss kw",
    "area a",
    "area b",
    "area c",
    "min kw",
    "max kw",
    "remark",
)
PRICE_HEADINGS: Final = ("option", "kw", "price")
RESIDUAL_HEADINGS: Final = ("option", "load pct", "order", "percent", "degrees")


@dataclass(frozen=True)
class OptionTable:
    """What can be bought.

    Parameters
    ----------
    drive_options : tuple of DriveOption
    filters : tuple of ActiveFilter
    banks : tuple of BankOption
    """

    drive_options: tuple[DriveOption, ...]
    filters: tuple[ActiveFilter, ...]
    banks: tuple[BankOption, ...] = ()


def option_table(options: Sheet, prices: Sheet | None = None, residuals: Sheet | None = None) -> OptionTable:
    """Check and convert the tables.

    Parameters
    ----------
    options : Sheet
        One row per option. Kind "bridge": pulses, reactors; "passive filter": the same, and the filter ahead
        of it; "residual spectrum": ``percent of`` (rated or load) and ``basis``; "active filter": ``rated
        amps`` and ``basis``; a bank or filter on a bus: ``kvar`` and tuning. Prices, areas: ``a + b kW^c``.
    prices : Sheet, optional
        Points of rating and price, in the place of the formula.
    residuals : Sheet, optional
        Percent by load and order; for an active filter the percent of the load's order that remains, with no
        load.

    Raises
    ------
    InputError
        A cell that is blank, out of range or contradicts another one, an option of another name, or a price
        that is missing for ratings at which the option can be had; the message names the cell.
    """
    options.check_headings(OPTION_HEADINGS, ("option", "kind"))
    points = _points(prices)
    spectra = _spectra(residuals)
    drive_options: list[DriveOption] = []
    filters: list[ActiveFilter] = []
    banks: list[BankOption] = []
    seen: set[str] = set()
    for record in options.records:
        name = record.text("option")
        if name in seen:
            raise InputError(record.where("option"), name, "each option once")
        seen.add(name)
        kind = record.text("kind").casefold()
        if kind not in KINDS:
            raise InputError(record.where("kind"), kind, "one of " + ", ".join(KINDS))
        if kind == FILTER:
            filters.append(_filter(record, name, spectra))
        elif kind in BANK_KINDS:
            banks.append(_bank(record, name, kind))
        else:
            physics = _residual(record, name, spectra) if kind == RESIDUAL else _bridge(record, kind)
            drive_options.append(_drive_option(record, name, physics, points))
    for sheet, used in ((prices, points), (residuals, spectra)):
        stranger = next((option for option in used if option not in seen), None)
        if sheet is not None and stranger is not None:
            record = used[stranger][0][0]
            raise InputError(record.where("option"), stranger, f"an option of {options.name}")
    return OptionTable(tuple(drive_options), tuple(filters), tuple(banks))


def _drive_option(record: Record, name: str, physics: Physics, points: Rows) -> DriveOption:
    low, high = record.number("min kw", 0.001), record.number("max kw", 1e5)
    if high < low:
        raise InputError(record.where("max kw"), high, f"{low:g} kW or more, the lowest rating")
    price = _price(record, name, points, low, high)
    if isinstance(price, Points):
        low = low if record.has("min kw") else price.low_kw
        high = high if record.has("max kw") else price.high_kw
    losses = _named(
        record,
        "load loss pct",
        lambda: Losses(record.number("fixed loss pct", 0.0), record.number("load loss pct", 0.0)),
    )
    area = _named(
        record,
        "area a",
        lambda: Formula(
            record.number("area a", 0.0), record.number("area b", 0.0), record.number("area c", 1.0)
        ),
    )
    return _named(
        record,
        "min kw",
        lambda: DriveOption(
            name=name,
            physics=physics,
            price=price,
            losses=losses,
            footprint=area,
            min_kw=low,
            max_kw=high,
            remark=record.text("remark", ""),
            place=record.where("option"),
        ),
    )


def _price(record: Record, name: str, points: Rows, low: float, high: float) -> Curve:
    given = points.get(name)
    if given is None:
        if not record.has("price a", "price b"):
            raise InputError(
                record.where("price a"),
                None,
                f"a price for {name}: a formula here, or points in the table of prices",
            )
        return _named(
            record,
            "price a",
            lambda: Formula(
                record.number("price a", 0.0), record.number("price b", 0.0), record.number("price c", 1.0)
            ),
        )
    if record.has("price a", "price b"):
        raise InputError(
            record.where("price a"), record.text("price a", "given"), "blank, because points are given"
        )
    first = given[0][0]
    curve = _named(first, "kw", lambda: Points(tuple((kw, price) for _, kw, price in given)))
    if record.has("min kw", "max kw"):
        lowest, highest = (
            (low if record.has("min kw") else curve.low_kw),
            (high if record.has("max kw") else curve.high_kw),
        )
        gap = curve.gap(lowest, highest)
        if gap:
            raise InputError(
                f"price of {name} ({first.place} and on)",
                f"missing {gap}",
                f"points from {lowest:g} to {highest:g} kW, the ratings of {record.place}",
                wrong_kind=True,
            )
    return curve


def _bridge(record: Record, kind: str) -> Bridge:
    passive = _passive_filter(record) if kind == PASSIVE else None
    return _named(
        record,
        "pulses",
        lambda: Bridge(
            record.whole("pulses", 6),
            record.usual("line reactor pct", DRIVE_REACTOR_PCT, default=0.0),
            record.usual("dc choke pct", DRIVE_REACTOR_PCT, default=0.0),
            record.optional_usual("transformer pct", LEAKAGE_PCT),
            passive,
        ),
    )


def _passive_filter(record: Record) -> FilterRating:
    return _named(
        record,
        "filter capacitor pct",
        lambda: FilterRating(
            capacitor_pct=record.usual("filter capacitor pct", FILTER_CAPACITOR_PCT),
            reactor_pct=record.usual("filter reactor pct", REACTOR_PCT, default=0.0),
            tuned_order=record.number("filter tuned order", 0.0),
            reactor_xr=record.number("filter reactor x/r", 25.0),
            shunt_resistance_pct=record.number("filter shunt resistance pct", 0.2),
            damping_pct=record.number("filter damping pct", 0.0),
        ),
    )


def _bank(record: Record, name: str, kind: str) -> BankOption:
    kilovolts = record.optional("rated kv")
    return _named(
        record,
        "kvar",
        lambda: BankOption(
            name=name,
            kind=kind,
            rated_var=1000.0 * record.usual("kvar", BANK_KVAR, "kvar"),
            rated_volts=None if kilovolts is None else 1000.0 * kilovolts,
            reactor_pct=record.optional_usual("bank reactor pct", DETUNING_PCT),
            tuned_order=record.optional("tuned order"),
            quality=record.optional("quality"),
            price=record.number("price a"),
            loss_watts=1000.0 * record.number("loss kw", 0.0),
            footprint_m2=record.number("area a", 0.0),
            remark=record.text("remark", ""),
        ),
    )


def _residual(record: Record, name: str, spectra: Rows) -> Residual:
    lines = []
    for line, _, _ in _spectrum(record, name, spectra):
        lines.append(
            _named(
                line,
                "percent",
                lambda line=line: ResidualLine(  # type: ignore[misc]
                    line.number("load pct"),
                    line.whole("order"),
                    line.number("percent"),
                    line.optional("degrees"),
                ),
            )
        )
    of = record.text("percent of")
    if of not in ("rated", "load"):
        raise InputError(record.where("percent of"), of, "rated or load")
    others = record.text("orders not listed", "not given")
    if others not in ("not given", "zero"):
        raise InputError(record.where("orders not listed"), others, "not given or zero")
    basis = record.text("basis")
    return _named(record, "basis", lambda: Residual(tuple(lines), of, basis, others))  # type: ignore[arg-type]


def _filter(record: Record, name: str, spectra: Rows) -> ActiveFilter:
    left = tuple(
        (line.whole("order"), line.number("percent")) for line, _, _ in _spectrum(record, name, spectra)
    )
    return _named(
        record,
        "rated amps",
        lambda: ActiveFilter(
            name=name,
            rated_amps=record.number("rated amps"),
            left=left,
            basis=record.text("basis"),
            price=record.number("price a"),
            loss_watts=1000.0 * record.number("loss kw", 0.0),
            footprint_m2=record.number("area a", 0.0),
            remark=record.text("remark", ""),
        ),
    )


def _spectrum(record: Record, name: str, spectra: Rows) -> list[tuple[Record, float, float]]:
    if name not in spectra:
        raise InputError(record.where("option"), name, "an option with rows in the table of residual spectra")
    return spectra[name]


def _points(prices: Sheet | None) -> Rows:
    found: Rows = {}
    if prices is None:
        return found
    prices.check_headings(PRICE_HEADINGS, PRICE_HEADINGS)
    for record in prices.records:
        row = (record, record.number("kw"), record.number("price"))
        found.setdefault(record.text("option"), []).append(row)
    return found


def _spectra(residuals: Sheet | None) -> Rows:
    found: Rows = {}
    if residuals is None:
        return found
    residuals.check_headings(RESIDUAL_HEADINGS, ("option", "order", "percent"))
    for record in residuals.records:
        row = (record, record.number("order"), record.number("percent"))
        found.setdefault(record.text("option"), []).append(row)
    return found


def _named(record: Record, heading: str, make: Callable[[], T]) -> T:
    """What `make` gives; its refusals name the row."""
    try:
        return make()
    except InputError as problem:
        if record.place in problem.argument or any(
            cell in problem.argument for cell in record.places.values()
        ):
            raise
        raise record.refuse(problem, heading) from None
