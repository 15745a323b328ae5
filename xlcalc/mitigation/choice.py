"""The result of a choice, and its tables."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from xlcalc.mitigation.assessment.mix_assessment import MixAssessment
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.offer.drive_options import AS_SCHEDULED
from xlcalc.mitigation.offer.physics import unlisted_text
from xlcalc.mitigation.offer.shipped import example_spectra, price_note
from xlcalc.mitigation.problem import Problem
from xlcalc.mitigation.robust import Robustness
from xlcalc.standards.verdict import NO_VERDICT, within


@dataclass(frozen=True)
class Proof:
    """How well it is proved that no mix is cheaper.

    Parameters
    ----------
    bound : float
        No mix that meets the limits costs less, in the model of the search: currents added up without
        coupling, corrected by what the coupled study of earlier mixes found.
    gap_pct : float
        Between the cost of the mix and the bound, percent of the cost.
    rounds : int
        Coupled studies that went into it.
    """

    bound: float
    gap_pct: float
    rounds: int


@dataclass(frozen=True, eq=False)
class FrontPoint:
    """The cheapest mix with a TDD of at most `limit_pct`, no other limit asked for.

    `passes` tells whether it meets all limits of the standard as well.
    """

    limit_pct: float
    mix: Mix
    bound: float
    passes: bool


@dataclass(frozen=True)
class Saving:
    """What the money spent on alike drives buys: the outcome without it.

    Parameters
    ----------
    tags : tuple of str
    option, cheapest : str
        Chosen option, and the cheapest one that is open to them.
    extra_cost : float
        What the chosen option costs more.
    tdd_without_pct : float
        TDD with the cheapest one instead, everything else unchanged.
    worst_without_pct : float
        Largest value then, in percent of its limit.
    """

    tags: tuple[str, ...]
    option: str
    cheapest: str
    extra_cost: float
    tdd_without_pct: float
    worst_without_pct: float


@dataclass(frozen=True, eq=False)
class ChosenMix:
    """What was chosen, and what a reader needs to believe it.

    Parameters
    ----------
    problem : Problem
    mix : Mix
        The cheapest mix found that passes; without one the mix that comes nearest.
    passes : bool
        By every study that was asked for.
    alone, coupled : MixAssessment or None
        The exact study of the mix with drives one by one on their bus, and coupled; None where it was not
        asked for or has no result, for which `cautions` give the reason.
    proof : Proof
    impossible : bool
        Proved, in the model of the search, that no mix passes.
    runners : tuple of Mix
        The next cheapest mixes that pass, drives one by one on their bus.
    front : tuple of FrontPoint
    savings : tuple of Saving
    last_step : str
        What the last unit of money buys, in words.
    cautions : tuple of str
    robust : Robustness or None
        The mix with uncertain inputs, where that was asked for.
    as_is : MixAssessment or None
        The coupled study of the plant as it is scheduled, where that was asked for and has a result.
    as_is_failure : str
        Why it has none.
    """

    problem: Problem
    mix: Mix
    passes: bool
    alone: MixAssessment
    coupled: MixAssessment | None
    proof: Proof
    impossible: bool = False
    runners: tuple[Mix, ...] = ()
    front: tuple[FrontPoint, ...] = ()
    savings: tuple[Saving, ...] = ()
    last_step: str = ""
    cautions: tuple[str, ...] = ()
    robust: Robustness | None = None
    as_is: MixAssessment | None = None
    as_is_failure: str = ""

    @property
    def as_is_text(self) -> str:
        """How the plant does as it is scheduled, in one line; empty where that was not studied."""
        if self.as_is is None:
            return f"As scheduled: no result: {self.as_is_failure}" if self.as_is_failure else ""
        word = "passes" if self.as_is.passes else "does not pass"
        return f"As scheduled: {word}; {self.as_is.text}"

    @property
    def changes(self) -> dict[str, int]:
        """Schedule lines by option, without those that stay as scheduled, then filters and bank."""
        return {name: count for name, count in self.mix.counts.items() if name != AS_SCHEDULED}

    @property
    def assessment(self) -> MixAssessment:
        """The study that decides: the coupled one where there is one."""
        return self.coupled or self.alone

    @property
    def example_spectra(self) -> tuple[str, ...]:
        """Options of the mix whose spectrum is the invented one of the shipped table."""
        return example_spectra(self.mix.options.values())

    @property
    def price_note(self) -> str:
        """The headline's words on example prices; empty where there are none."""
        return price_note(self.problem)

    @property
    def reason(self) -> str:
        """Why the mix has no verdict; empty where it has one."""
        doubts = [*self.assessment.doubts, *self.problem.doubts, *self.problem.spectrum_doubts]
        if self.passes and self.example_spectra:
            names = ", ".join(self.example_spectra)
            doubts.append(f"the spectrum of {names} is the example; enter one with its basis")
        elif self.passes:
            unlisted = unlisted_text((option.name, option.physics) for option in self.mix.options.values())
            doubts += [unlisted] if unlisted else []
        return "; ".join(doubts)

    @property
    def word(self) -> str:
        if self.reason:
            return NO_VERDICT
        return "PASS" if self.passes else "NO MIX PASSES" if self.impossible else "NO PASSING MIX FOUND"

    @property
    def summary(self) -> str:
        """The outcome in one line."""
        economics = self.problem.economics
        money = f"{self.mix.purchase:,.0f} {economics.currency}".strip() + " to buy"
        if self.mix.loss_cost:
            money += f" ({self.mix.cost:,.0f} with the losses of {economics.years:g} years)"
        bought = ", ".join(f"{count} x {name}" for name, count in self.changes.items()) or "nothing changed"
        if self.assessment.doubts:
            return f"{self.word}: {self.reason}"
        assumed = ", ".join(dict.fromkeys(unknown.name for unknown in self.problem.unknowns))
        known = f"{self.word} with assumed {assumed}" if assumed and self.word == "PASS" else self.word
        word = f"{known}, {self.price_note}" if self.price_note else known
        lead = f"{word}: {money}" if self.passes else f"{word}; nearest mix at {money}"
        lead = f"{lead}; {self.reason}" if self.reason else lead
        return f"{lead}; {bought}; binding: {self.assessment.text}"

    def mix_table(self) -> pd.DataFrame:
        """One row per line of the schedule, then filters and bank."""
        economics = self.problem.economics
        rows = []
        for drive in self.problem.drives:
            option = self.mix.options[drive.tag]
            kw = drive.rated_watts / 1000.0
            load = drive.front_end.load_pct / 100.0
            kwh = drive.quantity * option.losses.kwh_per_year(
                drive.rated_watts, load, economics.hours_per_year
            )
            rows.append(
                {
                    "tag": drive.tag,
                    "bus": drive.bus,
                    "quantity": drive.quantity,
                    "rated kW": kw,
                    "option": option.name,
                    "purchase": drive.quantity * option.price.at(kw),
                    "kWh a year": kwh,
                    "losses": economics.cost_of(kwh),
                    "footprint m2": drive.quantity * option.footprint.at(kw),
                    "remark": option.remark,
                }
            )
        for bus, bought in self.mix.filters.items():
            kwh = bought.loss_watts / 1000.0 * economics.hours_per_year
            rows.append(
                _remedy(bus, bought.name, bought.price, kwh, self.problem, bought.footprint_m2, bought.remark)
            )
        bank = self.mix.bank
        if bank is not None:
            kwh = bank.loss_watts / 1000.0 * economics.hours_per_year
            bus = bank.elements[0].bus
            rows.append(
                _remedy(bus, bank.name, bank.price, kwh, self.problem, bank.footprint_m2, bank.remark)
            )
        return pd.DataFrame(rows)

    def verdict_table(self) -> pd.DataFrame:
        """The exact studies at every PCC in every case: totals and binding item."""
        rows = []
        for assessment in (self.coupled, self.alone):
            for point in assessment.points if assessment is not None else ():
                result, binding = point.result, point.binding
                tdd, thdv = result.judgement.verdicts[:2]
                rows.append(
                    {
                        "case": point.case,
                        "PCC": point.point.pcc,
                        "study": "coupled" if assessment is self.coupled else "one by one",
                        "state": point.state,
                        "Isc/IL": result.isc_il,
                        "IL A": result.demand_amps,
                        "TDD %": tdd.value,
                        "TDD limit %": tdd.limit,
                        "voltage THD %": thdv.value,
                        "voltage THD limit %": thdv.limit,
                        "binding": binding.name,
                        "of its limit %": 100.0 * binding.ratio,
                        "verdict": point.word,
                        "limit from": f"{binding.origin.text}; {binding.verified}",
                    }
                )
        return pd.DataFrame(rows)

    def exceeded_table(self) -> pd.DataFrame:
        """What exceeds its limit less the margin in the study that decides, the worst first."""
        rows = [
            {
                "case": point.case,
                "PCC": point.point.pcc,
                "value": verdict.name,
                "order": verdict.order,
                "value %": verdict.value,
                "limit %": verdict.limit,
                "% of its limit": 100.0 * verdict.ratio,
                "margin asked for %": point.margin_pct,
            }
            for point in self.assessment.points
            for verdict in point.result.judgement.verdicts
            if not within(verdict.ratio, 1.0 - point.margin_pct / 100.0)
        ]
        found = pd.DataFrame(rows)
        return found.sort_values("% of its limit", ascending=False) if rows else found

    def bank_table(self) -> pd.DataFrame:
        """What the bought banks carry in every case, by the study that decides."""
        return pd.DataFrame(
            [
                {
                    "bank": load.name,
                    "case": load.case,
                    "quantity": verdict.quantity,
                    "% of its rating": verdict.value,
                    "limit %": verdict.limit,
                    "verdict": verdict.word,
                    "limit from": f"{verdict.origin.text}; {verdict.verified}",
                }
                for load in self.assessment.banks
                for verdict in load.judgement.verdicts
            ]
        )

    def front_table(self) -> pd.DataFrame:
        """Cost against TDD."""
        return pd.DataFrame(
            [
                {
                    "TDD at most %": point.limit_pct,
                    "TDD %": point.mix.tdd_pct,
                    "cost": point.mix.cost,
                    "purchase": point.mix.purchase,
                    "losses": point.mix.loss_cost,
                    "no mix below": point.bound,
                    "all limits met": "yes" if point.passes else "no",
                    "mix": point.mix.text,
                }
                for point in self.front
            ]
        )

    def runner_table(self) -> pd.DataFrame:
        """The chosen mix and the next cheapest ones."""
        return pd.DataFrame(
            [
                {
                    "rank": rank,
                    "cost": mix.cost,
                    "more than chosen": mix.cost - self.mix.cost,
                    "TDD %": mix.tdd_pct,
                    "mix": mix.text,
                    "changed": _difference(self.mix, mix),
                }
                for rank, mix in enumerate((self.mix, *self.runners), start=1)
            ]
        )

    def savings_table(self) -> pd.DataFrame:
        """What each part of the money buys."""
        return pd.DataFrame(
            [
                {
                    "drives": ", ".join(item.tags),
                    "option": item.option,
                    "instead of": item.cheapest,
                    "extra cost": item.extra_cost,
                    "TDD without it %": item.tdd_without_pct,
                    "worst value without it, % of its limit": item.worst_without_pct,
                }
                for item in self.savings
            ]
        )


def _remedy(
    bus: str, name: str, price: float, kwh: float, problem: Problem, footprint: float, remark: str
) -> dict[str, object]:
    return {
        "tag": "",
        "bus": bus,
        "quantity": 1,
        "rated kW": None,
        "option": name,
        "purchase": price,
        "kWh a year": kwh,
        "losses": problem.economics.cost_of(kwh),
        "footprint m2": footprint,
        "remark": remark,
    }


def _difference(chosen: Mix, other: Mix) -> str:
    """What the other mix does differently."""
    parts = [
        f"{tag}: {other.options[tag].name}"
        for tag, option in chosen.options.items()
        if other.options[tag].name != option.name
    ]
    for bus in sorted(chosen.filters.keys() | other.filters.keys()):
        before, after = chosen.filters.get(bus), other.filters.get(bus)
        if before is not after:
            parts.append(f"{bus}: {after.name if after else 'no filter'}")
    return "; ".join(parts)
