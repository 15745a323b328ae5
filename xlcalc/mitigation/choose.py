"""The choice: search, exact study of the outcome, and the search again where the study disagrees."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from xlcalc.errors import NoSolutionError
from xlcalc.mitigation.choice import Choice, Proof
from xlcalc.mitigation.judge import study_mix
from xlcalc.mitigation.limits import Limits
from xlcalc.mitigation.mix import Mix, mix_of
from xlcalc.mitigation.model import Model, build
from xlcalc.mitigation.options import Bank
from xlcalc.mitigation.problem import Problem
from xlcalc.mitigation.ruling import BankLoad, Ruling
from xlcalc.mitigation.search import Effort, Found, least_cost, nearest
from xlcalc.mitigation.tradeoff import cost_front, last_step, savings
from xlcalc.spectrum import FloatArray
from xlcalc.study.pcc import CURRENT, TDD, VOLTAGE, VOLTAGE_THD

SIGNIFICANT = 0.02
"""Part of its limit from which on a value is corrected by what the exact study finds."""

LARGEST_CORRECTION = 30.0
LEAST_SECONDS = 8.0
MOST_SECOND_LOOKS = 2
MOST_MISSES = 2
"""Runners-up that may fail their exact study before the search for more ends."""

Step = Callable[[str], None]


@dataclass(frozen=True)
class Wishes:
    """How to choose, and what to tell beside the mix.

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
    effort : Effort
        Of the main search; each point and runner-up gets an eighth of its time.
    """

    coupled: bool = True
    rely_on_coupling: bool = False
    front_points: int = 9
    runners: int = 3
    most_rounds: int = 4
    effort: Effort = field(default_factory=Effort)


@dataclass(frozen=True, eq=False)
class _Trial:
    """A mix with its studies, and the limits by which it was searched."""

    unknowns: FloatArray
    mix: Mix
    found: Found
    alone: Ruling
    coupled: Ruling | None
    failure: str
    limits: Limits

    @property
    def overloads(self) -> tuple[BankLoad, ...]:
        """Of the study that decides."""
        return (self.coupled or self.alone).overloads

    def passes(self, wishes: Wishes) -> bool:
        if wishes.coupled and self.coupled is None:
            return False
        by_coupled = self.coupled is None or self.coupled.passes
        return by_coupled and (self.alone.passes or wishes.rely_on_coupling)


def choose(problem: Problem, wishes: Wishes | None = None, step: Step | None = None) -> Choice:
    """The mix of least cost that meets the standard at every PCC in every case, with the margin.

    Parameters
    ----------
    problem : Problem
    wishes : Wishes, optional
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
    wanted = wishes or Wishes()
    tell = step or (lambda text: None)
    tell("solving the front ends")
    models = [build(problem)]
    models += [build(problem, bank, models[0].columns.currents) for bank in problem.banks]
    tell("searching the cheapest mix")
    share = replace(wanted.effort, seconds=_share_of_time(wanted.effort.seconds, len(models)))
    answers = [least_cost(model, model.limits, share) for model in models]
    impossible = all(answer.impossible for answer in answers)
    trials, refused = _trials(problem, models, answers, wanted, tell)
    bound = min(
        (a.bound for m, a in zip(models, answers, strict=True) if m.bank not in refused), default=math.inf
    )
    passing = [trial for trial in trials if trial.passes(wanted)]
    if passing:
        chosen = min(passing, key=lambda trial: trial.mix.cost)
        base = bound if any(chosen.found is answer for answer in answers) else chosen.found.bound
    else:
        tell("searching the nearest mix")
        sound = [trial for trial in trials if trial.mix.bank not in refused]
        left = [model for model in models if model.bank not in refused]
        chosen = _nearest(problem, left, wanted) if not sound else _closest(sound)
        base = bound
    model = next(m for m in models if m.bank is chosen.mix.bank)
    tell("trading cost against TDD")
    quick = Effort(max(wanted.effort.gap_pct, 1.5), wanted.effort.seconds / 8.0)
    front = cost_front(model, wanted.front_points, quick)
    runners: list[_Trial] = []
    if passing:
        if wanted.runners:
            tell("searching the runners-up")
            runners = _runners(problem, model, chosen, wanted, quick, tell)
        tried = [trial.unknowns for trial in (*trials, *runners)]
        met = [p.mix for p in front if p.passes and not any(np.array_equal(p.mix.unknowns, t) for t in tried)]
        looks = _cheaper(problem, model, chosen, met, wanted, tell)
        trials += looks
        good = [chosen, *runners, *(look for look in looks if look.passes(wanted))]
        chosen, *runners = sorted(good, key=lambda trial: trial.mix.cost)
    cautions = [*problem.cautions, *model.refused, *refused.values()]
    cautions += [
        f"no coupled result for {'the mix' if trial is chosen else trial.mix.text}: {trial.failure}"
        for trial in (*trials, *(() if chosen in trials else (chosen,)))
        if trial.failure
    ]
    cost = chosen.mix.cost
    gap = max(100.0 * (cost - base) / cost, 0.0) if cost > 0.0 and math.isfinite(base) else 0.0
    return Choice(
        problem,
        chosen.mix,
        bool(passing),
        chosen.alone,
        chosen.coupled,
        Proof(base, gap, len(trials)),
        impossible,
        tuple(trial.mix for trial in runners[: wanted.runners]),
        front,
        savings(model, chosen.unknowns),
        last_step(front, chosen.mix, problem.economics.currency),
        tuple(dict.fromkeys(cautions)),
    )


def _trials(
    problem: Problem, models: list[Model], answers: list[Found], wishes: Wishes, tell: Step
) -> tuple[list[_Trial], dict[Bank, str]]:
    """Mixes with their studies, the cheapest bank first, until one passes; banks that overload, and why."""
    trials: list[_Trial] = []
    refused: dict[Bank, str] = {}
    for k in sorted(range(len(models)), key=lambda k: answers[k].cost):
        model, found = models[k], answers[k]
        best = min((t.mix.cost for t in trials if t.passes(wishes)), default=math.inf)
        if found.unknowns is None or found.bound >= best:
            continue
        studied = _rounds(problem, model, found, wishes, tell)
        trials += studied
        overload = next((load for t in studied for load in t.overloads), None)
        if model.bank is not None and overload is not None and not any(t.passes(wishes) for t in studied):
            refused[model.bank] = f"no option, because it overloads: {overload.text}"
    return trials, refused


def _cheaper(
    problem: Problem, model: Model, chosen: _Trial, mixes: Sequence[Mix], wishes: Wishes, tell: Step
) -> list[_Trial]:
    """Studies of mixes that cost less than the chosen one, the cheapest first, until one passes.

    A search that ran out of time may have missed them.
    """
    less = [mix for mix in mixes if mix.cost < chosen.mix.cost * (1.0 - 1e-9)]
    looks: list[_Trial] = []
    for mix in sorted(less, key=lambda mix: mix.cost)[:MOST_SECOND_LOOKS]:
        tell("studying a cheaper mix exactly")
        found = Found(mix.unknowns, mix.cost, chosen.found.bound, 0)
        looks.append(_studied(problem, model, mix.unknowns, found, wishes, chosen.limits))
        if looks[-1].passes(wishes):
            break
    return looks


def _runners(
    problem: Problem, model: Model, chosen: _Trial, wishes: Wishes, effort: Effort, tell: Step
) -> list[_Trial]:
    """The next cheapest mixes that pass their exact studies, as far as a few tries find them."""
    limits = chosen.limits
    known = [chosen.unknowns]
    kept: list[_Trial] = []
    for _ in range(wishes.runners + MOST_MISSES):
        if len(kept) == wishes.runners:
            break
        found = least_cost(model, limits, effort, tuple(known))
        if found.unknowns is None:
            break
        tell("studying a runner-up exactly")
        trial = _studied(problem, model, found.unknowns, found, wishes, limits)
        known.append(found.unknowns)
        if trial.passes(wishes):
            kept.append(trial)
        elif not trial.failure:
            limits = limits.corrected(np.maximum(limits.factor, _correction(model, trial, wishes)))
    return kept


def _share_of_time(seconds: float, searches: int) -> float:
    """Of all searches together about the time of one, of each some seconds at least."""
    return max(seconds / searches, min(seconds, LEAST_SECONDS))


def _rounds(problem: Problem, model: Model, found: Found, wishes: Wishes, tell: Step) -> list[_Trial]:
    """Mixes with their studies: searched, studied, corrected, until the study has nothing to correct."""
    trials: list[_Trial] = []
    limits = model.limits
    unsolved: tuple[FloatArray, ...] = ()
    for number in range(wishes.most_rounds):
        if found.unknowns is None:
            break
        if any(np.array_equal(found.unknowns, trial.unknowns) for trial in trials):
            break
        tell(f"studying mix {number + 1} exactly")
        trial = _studied(problem, model, found.unknowns, found, wishes, limits)
        trials.append(trial)
        satisfied = trial.passes(wishes) and not (wishes.rely_on_coupling and wishes.coupled)
        if satisfied or trial.overloads:
            break
        if trial.failure:
            unsolved = (*unsolved, trial.unknowns)
        else:
            limits = model.limits.corrected(_correction(model, trial, wishes))
        found = least_cost(model, limits, wishes.effort, unsolved)
    return trials


def _studied(
    problem: Problem, model: Model, unknowns: FloatArray, found: Found, wishes: Wishes, limits: Limits
) -> _Trial:
    mix = mix_of(model, unknowns)
    alone = study_mix(problem, mix)
    coupled, failure = None, ""
    if wishes.coupled:
        try:
            coupled = study_mix(problem, mix, coupled=True)
        except NoSolutionError as reason:
            failure = str(reason)
    return _Trial(unknowns, mix, found, alone, coupled, failure, limits)


def _correction(model: Model, trial: _Trial, wishes: Wishes) -> FloatArray:
    """By how much the exact studies differ from the model, value by value, each relative to its limit."""
    ratios = model.keep * model.limits.ratios(model.quantities.values(trial.unknowns), trial.unknowns)
    alone = _by_value(model, trial.alone, ratios)
    if trial.coupled is None:
        return alone
    coupled = _by_value(model, trial.coupled, ratios)
    return coupled if wishes.rely_on_coupling else np.maximum(np.maximum(alone, coupled), 1.0)


def _by_value(model: Model, ruling: Ruling, ratios: FloatArray) -> FloatArray:
    factor = np.ones(model.quantities.count)
    for k, point in enumerate(ruling.points):
        exact = {(v.quantity, v.order or 0): v.ratio for v in point.result.judgement.verdicts}
        for block, (each, total) in ((2 * k, (CURRENT, TDD)), (2 * k + 1, (VOLTAGE, VOLTAGE_THD))):
            for index in np.flatnonzero(model.quantities.block_of == block):
                order = int(model.quantities.order_of[index])
                now = exact[total if order == 0 else each, order]
                if max(now, ratios[index]) >= SIGNIFICANT:
                    change = now / max(float(ratios[index]), 1e-6)
                    factor[index] = float(np.clip(change, 1.0 / LARGEST_CORRECTION, LARGEST_CORRECTION))
    return factor


def _nearest(problem: Problem, models: list[Model], wishes: Wishes) -> _Trial:
    """The mix that comes nearest, of all banks."""
    best: tuple[float, Model, FloatArray] | None = None
    for model in models:
        mix = nearest(model, model.limits, wishes.effort)
        if mix is not None:
            worst = float(_worst(model, model.limits, mix))
            if best is None or worst < best[0]:
                best = (worst, model, mix)
    if best is None:
        raise NoSolutionError("no mix keeps the ratings of the filters that are required")
    _, model, mix = best
    found = Found(mix, model.cost(mix), math.inf, 0)
    return _studied(problem, model, mix, found, wishes, model.limits)


def _closest(trials: list[_Trial]) -> _Trial:
    return max(trials, key=lambda trial: (trial.coupled or trial.alone).margin_left_pct)


def _worst(model: Model, limits: Limits, mix: FloatArray) -> float:
    return float(limits.ratios(model.quantities.values(mix), mix).max())
