"""The answer to a question: the mix chosen, its robustness, and what a reader should know."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace

from xlcalc.jobs.choice.question import Question
from xlcalc.mitigation.choice import ChosenMix
from xlcalc.mitigation.choose import ChoiceOptions, choose
from xlcalc.mitigation.milp.search import Effort
from xlcalc.mitigation.problem import LimitCase
from xlcalc.mitigation.robust import robustness

FRONT_POINTS = 9
RUNNERS = 3


def answer(
    asked: Question,
    *,
    gap_pct: float | None = None,
    seconds: float | None = None,
    front_points: int = FRONT_POINTS,
    runners: int = RUNNERS,
    say: Callable[[str], None] = lambda text: None,
) -> ChosenMix:
    """Choose, and study the mix with uncertain inputs where the question has any.

    Parameters
    ----------
    asked : Question
    gap_pct, seconds : float, optional
        Proof gap that is enough and time for the main search; by default those of the question.
    front_points : int
        Points of cost against TDD.
    runners : int
        Next best mixes to list.
    say : callable
        Called with what is being done.
    """
    effort = asked.effort or Effort()
    options = ChoiceOptions(
        coupled=asked.coupled,
        rely_on_coupling=asked.terms.rely_on_coupling,
        front_points=front_points,
        runners=runners,
        as_is=True,
        effort=Effort(
            effort.gap_pct if gap_pct is None else gap_pct, effort.seconds if seconds is None else seconds
        ),
    )
    choice = choose(asked.problem, options, say)
    if asked.samples is not None:
        samples = _counted(asked.samples(), say)
        choice = replace(choice, robust=robustness(asked.problem, choice.mix, samples, asked.samples_coupled))
    unreachable = (
        ()
        if choice.passes
        else (f"no option reaches the limits with the margin asked for ({asked.terms.margin_place})",)
    )
    return replace(choice, cautions=(*unreachable, *asked.cautions, *choice.cautions))


def _counted(
    samples: Iterable[tuple[LimitCase, ...]], say: Callable[[str], None]
) -> Iterator[tuple[LimitCase, ...]]:
    for number, cases in enumerate(samples, start=1):
        say(f"studying the mix with uncertain inputs: sample {number}")
        yield cases
