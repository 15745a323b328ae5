"""The choice: search, exact study of the outcome, and the search again where the study disagrees.

The plant without a bank and with each bank that is offered are searched side by side (`_Branch`). The search
works on a model in which every drive stands alone on its bus and the buses keep their angles; what the exact
study finds beyond it is put on the values as a factor, and the search goes on (`_Work.rounds`). The cheapest
mix that passes its exact study is the answer; mixes around it, from the curve of cost against TDD and from
the search for runners-up, replace it where they cost less and pass too.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from xlcalc.core.errors import NoSolutionError
from xlcalc.core.spectrum import FloatArray
from xlcalc.mitigation.assessment.assess import assess_mix, estimates_on_assumed
from xlcalc.mitigation.assessment.mix_assessment import MixAssessment
from xlcalc.mitigation.choice import ChosenMix, FrontPoint, Proof
from xlcalc.mitigation.milp.correction import by_value, correction
from xlcalc.mitigation.milp.limits import ValueLimits
from xlcalc.mitigation.milp.model import Model, build
from xlcalc.mitigation.milp.search import Effort, Found, least_cost, nearest
from xlcalc.mitigation.mix import Mix, mix_of, scheduled_mix
from xlcalc.mitigation.problem import Problem
from xlcalc.mitigation.tradeoff import cost_front, last_step, savings

LEAST_SECONDS = 8.0
MOST_SECOND_LOOKS = 2
CLEARLY = 1.05
"""Value over its limit from which on an expectation takes the place of the study."""

SECONDS_FOR_OTHERS = 40.0
"""Time after which no further runner-up or cheaper mix is studied; the chosen mix always is."""

MOST_MISSES = 2
"""Runners-up that may fail their exact study before the search for more ends."""

Step = Callable[[str], None]


@dataclass(frozen=True)
class ChoiceOptions:
    """How to choose, and what to report beside the mix.

    Parameters
    ----------
    coupled : bool
        The coupled study must pass too. Without it drives are only studied one by one on their bus.
    rely_on_coupling : bool
        The coupled study alone decides: cheaper, but the quick estimate of the mix may then exceed limits.
    front_points : int
        Points of cost against TDD; 0 for none.
    runners : int
        Next best mixes; 0 for none.
    most_rounds : int
        Searches with ever better corrections.
    as_is : bool
        Study the plant as it is scheduled first.
    effort : Effort
        Of the main search; each point and runner-up gets an eighth of its time.
    """

    coupled: bool = True
    rely_on_coupling: bool = False
    front_points: int = 9
    runners: int = 3
    most_rounds: int = 4
    as_is: bool = False
    effort: Effort = field(default_factory=Effort)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Trial:
    """A mix with its studies, and the limits by which it was searched."""

    mix: Mix
    found: Found
    limits: ValueLimits
    alone: MixAssessment
    coupled: MixAssessment | None
    failure: str

    @property
    def unknowns(self) -> FloatArray:
        return self.mix.unknowns

    @property
    def assessment(self) -> MixAssessment:
        """The study that decides."""
        return self.coupled or self.alone

    def passes(self, options: ChoiceOptions) -> bool:
        if options.coupled and self.coupled is None:
            return False
        by_coupled = self.coupled is None or self.coupled.passes
        return by_coupled and (self.alone.passes or options.rely_on_coupling)


@dataclass(frozen=True, eq=False)
class _Branch:
    """The plant without a bank, or with one: its model, what the search found, and the mixes studied."""

    model: Model
    answer: Found
    trials: tuple[_Trial, ...] = ()

    def refusal(self, options: ChoiceOptions) -> str:
        """Why its bank is no option: every mix with it fails, and one of them overloads it."""
        overload = next((load for trial in self.trials for load in trial.assessment.overloads), None)
        if self.model.bank is None or overload is None or any(t.passes(options) for t in self.trials):
            return ""
        return f"no option, because it overloads: {overload.text}"


_Chosen = tuple[_Branch, _Trial]


def choose(problem: Problem, options: ChoiceOptions | None = None, step: Step | None = None) -> ChosenMix:
    """The mix of least cost that meets the standard at every PCC in every case, with the margin.

    Parameters
    ----------
    problem : Problem
    options : ChoiceOptions, optional
    step : callable, optional
        Called with what is done next, in words.

    Returns
    -------
    Choice
        Where nothing passes, it holds the mix that comes nearest and says which item binds.

    Raises
    ------
    InputError
        A value does not suit a front end or a bank at its bus.
    NoSolutionError
        A drive has no option with a stable solution, or the network cannot supply the loads.
    """
    work = _Work(problem, options or ChoiceOptions(), step or (lambda text: None))
    as_is, as_is_failure = work.as_scheduled()
    branches = work.studied(work.searched())
    refusals = {branch: text for branch in branches if (text := branch.refusal(work.options))}
    sound = [branch for branch in branches if branch not in refusals]
    bound = min((branch.answer.bound for branch in sound), default=math.inf)
    trials = [trial for branch in branches for trial in branch.trials]

    passing = work.cheapest(branches)
    home, first = passing or work.nearest(sound)
    if passing and first.found is not home.answer:
        bound = first.found.bound
    front = work.front(home.model)
    ranked = [first]
    if passing:
        runners = work.runners(home.model, first)
        looks = work.cheaper(home.model, first, _unstudied(front, [*trials, *runners]))
        trials += looks
        good = [first, *runners, *(look for look in looks if look.passes(work.options))]
        ranked = sorted(good, key=lambda trial: trial.mix.cost)
    chosen = ranked[0]
    cautions = (*problem.cautions, *home.model.refused, *refusals.values(), *_failures(trials, chosen))
    return ChosenMix(
        problem=problem,
        mix=chosen.mix,
        passes=passing is not None,
        alone=chosen.alone,
        coupled=chosen.coupled,
        proof=Proof(bound, _gap_pct(chosen.mix.cost, bound), len(trials)),
        impossible=all(branch.answer.impossible for branch in branches),
        runners=tuple(trial.mix for trial in ranked[1 : work.options.runners + 1]),
        front=front,
        savings=savings(home.model, chosen.unknowns),
        last_step=last_step(front, chosen.mix, problem.economics.currency),
        cautions=tuple(dict.fromkeys(cautions)),
        as_is=as_is,
        as_is_failure=as_is_failure,
    )


@dataclass(frozen=True)
class _Work:
    """The phases of a choice."""

    problem: Problem
    options: ChoiceOptions
    tell: Step
    begun: float = field(default_factory=time.monotonic)

    @property
    def is_late(self) -> bool:
        """Whether no more mixes are studied besides the chosen one."""
        return time.monotonic() - self.begun > SECONDS_FOR_OTHERS

    @property
    def brief(self) -> Effort:
        """Of each point of the front and each runner-up."""
        effort = self.options.effort
        return Effort(max(effort.gap_pct, 1.5), effort.seconds / 8.0)

    def as_scheduled(self) -> tuple[MixAssessment | None, str]:
        """The study of the plant as it is scheduled, or why there is none."""
        if not self.options.as_is:
            return None, ""
        self.tell("studying the plant as scheduled")
        try:
            return assess_mix(self.problem, scheduled_mix(self.problem), coupled=self.options.coupled), ""
        except NoSolutionError as reason:
            return None, str(reason)

    def searched(self) -> list[_Branch]:
        """All front ends solved, and the cheapest mix of the model without a bank and with each."""
        self.tell("solving the front ends")
        models = [build(self.problem)]
        models += [build(self.problem, bank, models[0].columns.currents) for bank in self.problem.banks]
        self.tell("searching the cheapest mix")
        seconds = _share_of_time(self.options.effort.seconds, len(models))
        share = replace(self.options.effort, seconds=seconds)
        return [_Branch(model, least_cost(model, model.limits, share)) for model in models]

    def studied(self, branches: list[_Branch]) -> list[_Branch]:
        """The branches with their studies, the cheapest first; what cannot be cheaper is not studied."""
        best = math.inf
        done = []
        for branch in sorted(branches, key=lambda branch: branch.answer.cost):
            trials: list[_Trial] = []
            if branch.answer.bound < best:
                trials = self.rounds(branch.model, branch.answer)
            best = min((best, *(trial.mix.cost for trial in trials if trial.passes(self.options))))
            done.append(replace(branch, trials=tuple(trials)))
        return done

    def rounds(self, model: Model, found: Found) -> list[_Trial]:
        """Mixes with their studies: searched, studied, corrected, until nothing is to be corrected."""
        trials: list[_Trial] = []
        limits = model.limits
        unsolved: tuple[FloatArray, ...] = ()
        foreseen: _Trial | None = None
        least: FloatArray = np.zeros(model.quantities.count)
        for number in range(self.options.most_rounds):
            if found.unknowns is None or _is_among(found.unknowns, trials):
                break
            self.tell(f"studying mix {number + 1} exactly")
            trial = self.study(model, found.unknowns, found, limits, assumed=foreseen is not None)
            if foreseen is None and trial.passes(self.options):
                factor = self.expected(model, trial)
                if factor is not None:
                    foreseen, least, limits = trial, factor, model.limits.corrected(factor)
                    found = least_cost(model, limits, self.options.effort, unsolved)
                    continue
                trial = self.study(model, trial.unknowns, found, limits)
            trials.append(trial)
            cheaper_by_coupling = self.options.rely_on_coupling and self.options.coupled
            if trial.assessment.overloads or (trial.passes(self.options) and not cheaper_by_coupling):
                break
            if trial.failure:
                unsolved = (*unsolved, trial.unknowns)
            else:
                limits = model.limits.corrected(np.maximum(least, self.correction(model, trial)))
            found = least_cost(model, limits, self.options.effort, unsolved)
        if foreseen is not None and not any(trial.passes(self.options) for trial in trials):
            trials.append(self.study(model, foreseen.unknowns, foreseen.found, foreseen.limits))
        return trials

    def expected(self, model: Model, trial: _Trial) -> FloatArray | None:
        """Corrections for a mix that will clearly fail on the assumed supply; None where it may pass.

        The coupled solution there takes long. It is expected to differ from that on the given supply as the
        quick estimates do.
        """
        estimates = estimates_on_assumed(self.problem, trial.mix)
        if trial.coupled is None or not estimates:
            return None
        ratios = model.limits.ratios(model.quantities.values(trial.unknowns), trial.unknowns)
        kept = model.keep * ratios
        alone = by_value(model, trial.alone, kept)
        there = np.maximum.reduce([by_value(model, estimate, kept) for estimate in estimates])
        found = self.correction(model, trial)
        factor = np.maximum(found, by_value(model, trial.coupled, kept) * there / alone)
        return factor if float((ratios * factor).max()) > CLEARLY else None

    def correction(self, model: Model, trial: _Trial) -> FloatArray:
        """By how much the exact studies of a mix differ from the model."""
        alone = self.options.rely_on_coupling and trial.coupled is not None
        return correction(model, trial.unknowns, None if alone else trial.alone, trial.coupled)

    def study(
        self, model: Model, unknowns: FloatArray, found: Found, limits: ValueLimits, *, assumed: bool = True
    ) -> _Trial:
        """The exact studies of a mix."""
        mix = mix_of(model, unknowns)
        alone = assess_mix(self.problem, mix)
        coupled, failure = None, ""
        if self.options.coupled:
            try:
                coupled = assess_mix(self.problem, mix, coupled=True, assumed=assumed)
            except NoSolutionError as reason:
                failure = str(reason)
        return _Trial(mix=mix, found=found, limits=limits, alone=alone, coupled=coupled, failure=failure)

    def cheapest(self, branches: list[_Branch]) -> _Chosen | None:
        """The cheapest mix that passes; None where none does."""
        passing = [(b, trial) for b in branches for trial in b.trials if trial.passes(self.options)]
        return min(passing, key=lambda pair: pair[1].mix.cost, default=None)

    def nearest(self, branches: list[_Branch]) -> _Chosen:
        """The mix that comes nearest: of those that were studied, else by the model."""
        self.tell("searching the nearest mix")
        tried = [(branch, trial) for branch in branches for trial in branch.trials]
        if tried:
            return max(tried, key=lambda pair: pair[1].assessment.margin_left_pct)
        near = [
            (float(branch.model.limits.ratios(branch.model.quantities.values(mix), mix).max()), branch, mix)
            for branch in branches
            if (mix := nearest(branch.model, branch.model.limits, self.options.effort)) is not None
        ]
        if not near:
            raise NoSolutionError("no mix keeps the ratings of the filters that are required")
        _, branch, mix = min(near, key=lambda item: item[0])
        model = branch.model
        return branch, self.study(model, mix, Found(mix, model.cost(mix), math.inf, 0), model.limits)

    def front(self, model: Model) -> tuple[FrontPoint, ...]:
        """Cost against TDD."""
        self.tell("trading cost against TDD")
        return cost_front(model, self.options.front_points, self.brief)

    def runners(self, model: Model, chosen: _Trial) -> list[_Trial]:
        """The next cheapest mixes that pass their exact studies, as far as a few tries find them."""
        limits = chosen.limits
        known = [chosen.unknowns]
        kept: list[_Trial] = []
        if self.options.runners:
            self.tell("searching the runners-up")
        for _ in range(self.options.runners + MOST_MISSES):
            if len(kept) == self.options.runners or self.is_late:
                break
            found = least_cost(model, limits, self.brief, tuple(known))
            if found.unknowns is None:
                break
            self.tell("studying a runner-up exactly")
            trial = self.study(model, found.unknowns, found, limits)
            known.append(found.unknowns)
            if trial.passes(self.options):
                kept.append(trial)
            elif not trial.failure:
                limits = limits.corrected(np.maximum(limits.factor, self.correction(model, trial)))
        return kept

    def cheaper(self, model: Model, chosen: _Trial, mixes: Sequence[Mix]) -> list[_Trial]:
        """Studies of mixes that cost less than the chosen one, the cheapest first, until one passes.

        A search that ran out of time may have missed them.
        """
        less = [mix for mix in mixes if mix.cost < chosen.mix.cost * (1.0 - 1e-9)]
        looks: list[_Trial] = []
        for mix in sorted(less, key=lambda mix: mix.cost)[:MOST_SECOND_LOOKS]:
            if self.is_late:
                break
            self.tell("studying a cheaper mix exactly")
            found = Found(mix.unknowns, mix.cost, chosen.found.bound, 0)
            looks.append(self.study(model, mix.unknowns, found, chosen.limits))
            if looks[-1].passes(self.options):
                break
        return looks


def _is_among(unknowns: FloatArray, trials: Sequence[_Trial]) -> bool:
    return any(np.array_equal(unknowns, trial.unknowns) for trial in trials)


def _unstudied(front: Sequence[FrontPoint], trials: Sequence[_Trial]) -> list[Mix]:
    """Mixes of the front that meet the limits in the model and have no study yet."""
    return [point.mix for point in front if point.passes and not _is_among(point.mix.unknowns, trials)]


def _failures(trials: Sequence[_Trial], chosen: _Trial) -> list[str]:
    """Why mixes have no coupled result."""
    return [
        f"no coupled result for {'the mix' if trial is chosen else trial.mix.text}: {trial.failure}"
        for trial in (trials if chosen in trials else [*trials, chosen])
        if trial.failure
    ]


def _gap_pct(cost: float, bound: float) -> float:
    """By how much a mix could still be cheaper, percent of its cost."""
    return max(100.0 * (cost - bound) / cost, 0.0) if cost > 0.0 and math.isfinite(bound) else 0.0


def _share_of_time(seconds: float, searches: int) -> float:
    """Of all searches together about the time of one, of each some seconds at least."""
    return max(seconds / searches, min(seconds, LEAST_SECONDS))
