"""From the tables of a plant, its options and terms to the question that the choice answers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from xlcalc.core.errors import InputError
from xlcalc.mitigation.offer.banks import OptionTable, banks_of
from xlcalc.mitigation.offer.drive_options import FilterPlace
from xlcalc.mitigation.problem import FixedOption, LimitCase, Problem
from xlcalc.mitigation.terms import CaseTerms, FilterTerms, PinTerms, Terms
from xlcalc.network.nodal import NodalNetwork
from xlcalc.schema.assembly.case_loads import load_in_case
from xlcalc.schema.assembly.common_bus import on_common_bus
from xlcalc.schema.assembly.judging import pcc_options
from xlcalc.schema.assembly.network import network_of, plant_of
from xlcalc.schema.kinds import one_of
from xlcalc.schema.tables import Tables, Values
from xlcalc.standards.ieee519 import left_to_others
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant

AS_SCHEDULED: Final = {"drive load pct": 100.0, "drive loads": None}
EVERYTHING_ON: Final = {
    "generators": "on",
    "capacitors": "on",
    "loads": "on",
    "out of service": None,
    **AS_SCHEDULED,
}

LOADS_OFF = "linear loads"


def plant_problem(
    tables: Tables, drives: Sequence[Values], settings: Values, options: OptionTable, terms: Terms
) -> Problem:
    """The problem of a plant whose network is given by tables.

    Parameters
    ----------
    tables, drives, settings
        As the plant functions take them.
    options : OptionTable
    terms : Terms
        Its cases change settings of a case; the name "linear loads" in `off` takes out all loads of the
        network, other names are drives, elements or buses.

    Raises
    ------
    InputError
        Something does not fit something else; the message names both.
    """
    drives = on_common_bus(drives, tables)
    whole = plant_of(tables, drives, {**settings, **EVERYTHING_ON})
    cases = []
    for case in terms.cases or (CaseTerms("as described"),):
        made = _case(with_loads(case, settings, drives), tables, whole.drives, settings, terms)
        cases += [made] if made is not None else []
    if not cases:
        raise InputError(f"pcc of {terms.name}", ", ".join(terms.pcc), "a bus that a case supplies")
    supply = settings["supply"] or ""
    problem = problem_from(whole.drives, whole.network, tuple(cases), options, terms, supply=supply)
    return with_notes_of(whole, problem)


def with_notes_of(plant: StudiedPlant, problem: Problem) -> Problem:
    """The problem with what qualifies the plant, and why no verdict may rest on it."""
    return replace(
        problem,
        remarks=(*plant.remarks, *(unknown.text for unknown in plant.unknowns)),
        doubts=plant.doubts,
        unknowns=plant.unknowns,
    )


def with_loads(case: CaseTerms, settings: Values, drives: Sequence[Values]) -> CaseTerms:
    """A case whose settings of load have become the load of each drive; one made so stays as it is.

    Parameters
    ----------
    case : CaseTerms
    settings : mapping
        Of the plant, where the case has none of its own.
    drives : sequence of mapping
        Rows of the schedule.

    Raises
    ------
    InputError
        As `load_in_case`.
    """
    scheduled = {str(row["tag"]): float(row["load pct"]) for row in drives}
    loads = load_in_case(scheduled, {**settings, **case.settings})
    stopped = [tag for tag, load in loads.items() if load is None]
    own = {tag: load for tag, load in loads.items() if load is not None and load != scheduled[tag]}
    return replace(
        case,
        settings={**case.settings, **AS_SCHEDULED},
        off=tuple(dict.fromkeys((*case.off, *stopped))),
        load_pct={**own, **case.load_pct},
    )


def problem_from(
    drives: tuple[ScheduledDrive, ...],
    network: NodalNetwork,
    cases: tuple[LimitCase, ...],
    options: OptionTable,
    terms: Terms,
    aliases: Mapping[str, str] | None = None,
    *,
    supply: str = "",
) -> Problem:
    """The problem of cases that are made already.

    Parameters
    ----------
    drives : tuple of ScheduledDrive
    network : NodalNetwork
        With everything in service; its buses may get filters and banks.
    cases, options, terms
    aliases : mapping of str to str, optional
        Other names of buses that pins and places may use.
    supply : str
        As `Problem` takes it.
    """
    buses = {bus.casefold(): bus for bus in network.buses}
    buses |= {name.casefold(): bus for name, bus in (aliases or {}).items()}
    known = {option.name for option in options.drive_options}
    for name in terms.offer:
        if name not in known:
            raise InputError(f"offer of {terms.name}", name, one_of(sorted(known), name))
    offered = tuple(o for o in options.drive_options if not terms.offer or o.name in terms.offer)
    filters, banks = [], []
    for item in terms.filters:
        bus = _bus(item.bus, buses, f"bus of {item.place}")
        active, standing = _offered(item, options)
        if active:
            covers = tuple(_bus(name, buses, f"covers of {item.place}") for name in item.covers)
            filters.append(FilterPlace(bus, active, covers, item.required))
        elif item.required:
            raise InputError(f"required of {item.place}", "yes", "no, unless an active filter is offered")
        if standing:
            banks.append((bus, network.volts(bus), standing))
    return Problem(
        drives=drives,
        options=offered,
        cases=cases,
        economics=terms.economics,
        margin_pct=terms.margin_pct,
        pins=tuple(_pin(pin, drives, buses) for pin in terms.pins),
        filter_places=tuple(filters),
        banks=banks_of(banks),
        margins_pct={_bus(bus, buses, f"pcc of {terms.name}"): pct for bus, pct in terms.margins_pct.items()},
        capacitor_standard=terms.capacitor_standard,
        supply=supply,
        keep_scheduled=terms.keep_scheduled,
        equal=terms.equal_drives,
    )


def _case(
    case: CaseTerms, tables: Tables, drives: tuple[ScheduledDrive, ...], settings: Values, terms: Terms
) -> LimitCase | None:
    """The case; None where it supplies none of the PCCs."""
    tags = {drive.tag for drive in drives}
    changed: dict[str, Any] = {**settings, **case.settings}
    off = [name.strip() for name in (changed["out of service"] or "").split(";") if name.strip()]
    off += [name for name in case.off if name != LOADS_OFF]
    if LOADS_OFF in case.off:
        off += [row["name"] for row in tables["loads"]]
    stopped = {name for name in off if name in tags}
    changed["out of service"] = "; ".join(dict.fromkeys(n for n in off if n not in tags)) or None
    try:
        network = network_of(tables, changed)
    except InputError as problem:
        raise problem.renamed(f"{problem.argument}, case {case.name} of {terms.name}") from None
    stopped |= {drive.tag for drive in drives if drive.bus in off}
    for drive in drives:
        if drive.tag not in stopped and drive.bus not in network.buses:
            named = f"bus of {drive.tag} in case {case.name} of {terms.name}"
            raise InputError(named, drive.bus, "a bus with supply, or one that is out of service")
    demand = {row["name"]: row["demand amps"] for row in tables["buses"]}
    if reason := left_to_others(changed["inverter pct"], changed["edition"]):
        named = f"inverter pct in settings of case {case.name} of {terms.name}"
        raise InputError(named, changed["inverter pct"], f"a share that IEEE 519 judges: {reason}")
    points = []
    for bus in terms.pcc or (str(tables["utility"][0]["bus"]),):
        if bus not in demand:
            raise InputError(f"pcc of {terms.name}", bus, one_of(list(demand), bus), wrong_kind=True)
        if bus in network.buses:
            points.append(pcc_options(bus, demand[bus], changed, terms.raise_other_limits))
    if not points:
        return None
    return LimitCase(case.name, network, tuple(points), frozenset(stopped), dict(case.load_pct))


def _offered(item: FilterTerms, options: OptionTable) -> tuple[tuple[Any, ...], tuple[Any, ...]]:
    active = {choice.name: choice for choice in options.filters}
    banks = {choice.name: choice for choice in options.banks}
    names = [*active, *banks]
    for name in item.offer:
        if name not in names:
            raise InputError(f"offer of {item.place}", name, one_of(names, name))
    return tuple(active[n] for n in item.offer if n in active), tuple(
        banks[n] for n in item.offer if n in banks
    )


def _pin(pin: PinTerms, drives: tuple[ScheduledDrive, ...], buses: Mapping[str, str]) -> FixedOption:
    tags = pin.tags
    if pin.bus:
        bus = _bus(pin.bus, buses, f"bus of {pin.place}")
        tags = tuple(drive.tag for drive in drives if drive.bus == bus)
    return FixedOption(tags, pin.options, pin.place)


def _bus(name: str, buses: Mapping[str, str], argument: str) -> str:
    if name.casefold() not in buses:
        raise InputError(argument, name, one_of(list(buses.values()), name), wrong_kind=True)
    return buses[name.casefold()]
