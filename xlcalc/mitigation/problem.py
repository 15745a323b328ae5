"""The question: which drives, which options, where and when the limits must hold, and on which terms."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from xlcalc.core.checks import number
from xlcalc.core.errors import InputError
from xlcalc.equipment.capacitor import capacitor_standards
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED, Bank, DriveOption, FilterPlace, as_scheduled
from xlcalc.mitigation.offer.economics import Economics
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.nameplate.assumption import Assumption
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive
from xlcalc.studies.sources import Summation
from xlcalc.studies.verdict.remarks import spectrum_doubts

CAPACITOR_STANDARD = "IEEE 18-2002"


@dataclass(frozen=True)
class LimitCase:
    """One state of the plant in which the limits must hold.

    Parameters
    ----------
    name : str
        Once per problem.
    network : NodalNetwork
        The plant's network in this state.
    points : tuple of PccOptions
        Where and by which edition it is judged; one or more.
    off : frozenset of str
        Tags of drives that do not run.
    load_pct : mapping of str to float
        Loads that differ from the schedule, by tag.

    Raises
    ------
    InputError
        No point, an unknown bus, or a summation without phasors or magnitudes.
    """

    name: str
    network: NodalNetwork
    points: tuple[PccOptions, ...] = (PccOptions(),)
    off: frozenset[str] = frozenset()
    load_pct: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.points:
            raise InputError(f"points of case {self.name}", "empty", "one PCC or more")
        for point in self.points:
            self.network.volts(point.pcc)
            if point.summation is Summation.EXPONENTS:
                raise InputError("summation", str(point.summation), "phasor or arithmetic")

    def drive(self, drive: ScheduledDrive) -> ScheduledDrive | None:
        """The drive as it runs in this case; None where it does not."""
        if drive.tag in self.off:
            return None
        if drive.tag not in self.load_pct:
            return drive
        try:
            front_end = replace(drive.front_end, load_pct=self.load_pct[drive.tag])
        except InputError as problem:
            raise InputError(
                f"load of {drive.tag} in case {self.name}", problem.value, problem.valid
            ) from None
        return replace(drive, front_end=front_end)


@dataclass(frozen=True)
class FixedOption:
    """Drives that must get one of some options.

    Parameters
    ----------
    tags : tuple of str
        The drives.
    options : tuple of str
        Names that remain; "as scheduled" stands for the front end of the schedule, bought already.
    place : str
        Where this is written, for messages.
    """

    tags: tuple[str, ...]
    options: tuple[str, ...]
    place: str = "pin"


@dataclass(frozen=True)
class Problem:
    """Everything that a choice depends on.

    Parameters
    ----------
    drives : tuple of ScheduledDrive
        Lines of the schedule; all units of a line get the same front end. A line with units that may differ
        is written as several lines.
    options : tuple of DriveOption
        Each name once.
    cases : tuple of LimitCase
        One or more, each name once.
    economics : Economics
        Years, tariff, hours.
    margin_pct : float
        By how much every value must stay below its limit, percent of the limit, 0 to 90.
    margins_pct : mapping of str to float
        The same for single PCCs by bus, in its place.
    pins : tuple of FixedOption
        A drive may be in several, which must leave it an option together.
    filter_places : tuple of FilterPlace
        Buses that may get an active filter.
    banks : tuple of Bank
        At most one of them is bought. Like every capacitor it must stand its rms voltage, peak voltage,
        current and kvar in every case.
    capacitor_standard : str
        By which a bought bank is judged, one of `capacitor_standards`.
    supply : str
        Preset for what is unknown of the supply, as `xlcalc.studies.verdict.assessment.assess` takes it.
    keep_scheduled : bool
        What is scheduled is on offer for every drive at no cost, and options that cost nothing are then left
        out unless a pin names them: only changes are bought.
    equal : bool
        Drives of one bus, rating, front end, load and offer get the same option.
    remarks, doubts : tuple of str
        What its inputs make a reader of the answer know, and why no verdict may rest on them.
    unknowns : tuple of Assumption
        What nameplates leave open of the drives, which have typical values: a mix has to pass at P95 too.

    Raises
    ------
    InputError
        A name twice, an unknown tag, option or bus, pins that contradict each other, or a drive without an
        option; the message names them.
    """

    drives: tuple[ScheduledDrive, ...]
    options: tuple[DriveOption, ...]
    cases: tuple[LimitCase, ...]
    economics: Economics
    margin_pct: float = 0.0
    pins: tuple[FixedOption, ...] = ()
    filter_places: tuple[FilterPlace, ...] = ()
    banks: tuple[Bank, ...] = ()
    margins_pct: Mapping[str, float] = field(default_factory=dict)
    capacitor_standard: str = CAPACITOR_STANDARD
    supply: str = ""
    keep_scheduled: bool = False
    equal: bool = False
    remarks: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    unknowns: tuple[Assumption, ...] = ()

    def __post_init__(self) -> None:
        number("margin_pct", self.margin_pct, unit="%", least=0, most=90)
        for bus, margin in self.margins_pct.items():
            number(f"margin_pct at {bus}", margin, unit="%", least=0, most=90)
        if self.capacitor_standard not in capacitor_standards():
            raise InputError(
                "capacitor_standard", self.capacitor_standard, "one of " + ", ".join(capacitor_standards())
            )
        if not self.drives:
            raise InputError("drives", "empty", "one drive or more")
        if not self.cases:
            raise InputError("cases", "empty", "one case or more")
        _once("tag", [drive.tag for drive in self.drives])
        _once("option", [option.name for option in self.options])
        _once("case", [case.name for case in self.cases])
        _once("bank", [bank.name for bank in self.banks])
        if any(option.name == AS_SCHEDULED for option in self.options):
            raise InputError("option", AS_SCHEDULED, "another name; this one is the schedule's front end")
        self._check_cases()
        self._check_filters()
        for bank in self.banks:
            for element in bank.elements:
                self._check_bus(f"bus of {element.name}", element.bus)
        _ = self.allowed

    @cached_property
    def allowed(self) -> tuple[tuple[DriveOption, ...], ...]:
        """Options of each drive, by ratings and pins."""
        return tuple(self._allowed(drive) for drive in self.drives)

    def margin_at(self, bus: str) -> float:
        """Margin asked for at a PCC, percent of every limit."""
        return self.margins_pct.get(bus, self.margin_pct)

    def with_bank(self, bank: Bank) -> Problem:
        """The same problem with a bank in every case that supplies its bus, and no other to choose."""
        return replace(self, cases=tuple(with_bank(case, bank) for case in self.cases), banks=())

    @property
    def spectrum_doubts(self) -> tuple[str, ...]:
        """Why loads with their own spectrum leave PCCs without a verdict, whatever the mix."""
        found = (
            doubt
            for case in self.cases
            for point in case.points
            for doubt in spectrum_doubts(case.network, point.pcc)
        )
        return tuple(dict.fromkeys(found))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What a reader of the result should know about the question."""
        used = {option.name for options in self.allowed for option in options}
        notes = [*self.remarks]
        notes += [
            f"option {option.name} ({option.min_kw:g} to {option.max_kw:g} kW) fits no drive"
            + (f"; {option.place}" if option.place else "")
            for option in self.options
            if option.name not in used and not (self.keep_scheduled and self._fits_one(option))
        ]
        invented = sorted({o.name for o in self.options if "indicative" in o.remark and o.name in used})
        if invented:
            notes.append("prices and losses are indicative, replace them by your own: " + ", ".join(invented))
        return tuple(notes)

    def _fits_one(self, option: DriveOption) -> bool:
        return any(option.fits(drive.rated_watts / 1000.0) for drive in self.drives)

    def _allowed(self, drive: ScheduledDrive) -> tuple[DriveOption, ...]:
        kw = drive.rated_watts / 1000.0
        fitting = [option for option in self.options if option.fits(kw)]
        pins = [pin for pin in self.pins if drive.tag in pin.tags]
        if self.keep_scheduled or any(AS_SCHEDULED in pin.options for pin in pins):
            fitting.append(as_scheduled())
        kept = [o for o in fitting if all(o.name in pin.options for pin in pins)]
        if kept and self.keep_scheduled and not pins:
            kept = [o for o in kept if o.name == AS_SCHEDULED or o.price.at(kw) > 0.0]
        if kept:
            return tuple(kept)
        if not fitting:
            ranges = "; ".join(f"{o.name}: {o.min_kw:g} to {o.max_kw:g} kW" for o in self.options)
            raise InputError(
                f"rating of {drive.tag}",
                f"{kw:.4g} kW, which no option fits",
                ranges or "options",
                wrong_kind=True,
            )
        told = "; ".join(f"{pin.place} wants {' or '.join(pin.options)}" for pin in pins)
        common = set(pins[0].options).intersection(*(pin.options for pin in pins))
        valid = (
            f"an option that can be had at {kw:.4g} kW: " + ", ".join(o.name for o in fitting)
            if common
            else "pins that leave an option"
        )
        raise InputError(f"pins of {drive.tag}", f"contradictory: {told}", valid, wrong_kind=True)

    def _check_cases(self) -> None:
        tags = {drive.tag for drive in self.drives}
        names = {option.name for option in self.options} | {AS_SCHEDULED}
        for case in self.cases:
            for tag in (*case.off, *case.load_pct):
                if tag not in tags:
                    raise InputError(f"drive in case {case.name}", tag, "a tag of the schedule")
            for drive in self.drives:
                if case.drive(drive) is not None:
                    case.network.volts(drive.bus)
        for pin in self.pins:
            for tag in pin.tags:
                if tag not in tags:
                    raise InputError(f"drive in {pin.place}", tag, "a tag of the schedule")
            for name in pin.options:
                if name not in names:
                    raise InputError(f"option in {pin.place}", name, "one of " + ", ".join(sorted(names)))

    def _check_bus(self, argument: str, bus: str) -> None:
        known: Iterable[str] = dict.fromkeys(name for case in self.cases for name in case.network.buses)
        if bus not in known:
            raise InputError(argument, bus, "one of " + ", ".join(known), wrong_kind=True)

    def _check_filters(self) -> None:
        _once("covered bus", [bus for place in self.filter_places for bus in place.covered])
        for place in self.filter_places:
            _once(f"active filter on bus {place.bus}", [choice.name for choice in place.choices])
            for bus in (place.bus, *place.covered):
                self._check_bus(f"bus of the filter on {place.bus}", bus)
            arithmetic = any(p.summation is Summation.ARITHMETIC for case in self.cases for p in case.points)
            if arithmetic and set(place.covered) != {place.bus}:
                raise InputError(
                    f"covers of the filter on bus {place.bus}",
                    ", ".join(place.covered),
                    f"{place.bus} alone, where currents add up by arithmetic",
                )
            if place.required and not place.choices:
                raise InputError(f"active filter on bus {place.bus}", "none", "one or more to choose from")


def with_bank(case: LimitCase, bank: Bank) -> LimitCase:
    """The case with a bank; unchanged where its bus has no supply."""
    network = case.network
    added = tuple(element for element in bank.elements if element.bus in network.buses)
    return replace(case, network=replace(network, capacitors=(*network.capacitors, *added)))


def _once(kind: str, names: list[str]) -> None:
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InputError(kind, name, "each one once")
        seen.add(name)
