"""How robust a mix is: the exact study repeated for sampled inputs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.problem import LimitCase, Problem

CONFIDENCE = 0.95


@dataclass(frozen=True, eq=False)
class Robustness:
    """Outcome of a mix over sampled inputs.

    Parameters
    ----------
    runs : DataFrame
        One row per sample: TDD, margin left (both percent), binding item, passes, remark.
    coupled : bool
        Every sample was studied coupled.
    """

    runs: pd.DataFrame
    coupled: bool

    @property
    def share_passing(self) -> float:
        """Within the limits and the margin."""
        return float(self.runs["passes"].mean())

    @property
    def share_within(self) -> float:
        """Within the limits, whatever is left of the margin."""
        return float((self.runs["margin left %"] >= 0.0).mean())

    @property
    def text(self) -> str:
        """The outcome in one line."""
        low, high = (100.0 * end for end in self.interval)
        tdd = self.runs["TDD %"].dropna()
        spread = (
            f"; TDD {tdd.quantile(0.5):.2f} % in the middle, {tdd.quantile(0.95):.2f} % at P95, "
            f"{tdd.max():.2f} % at worst"
            if len(tdd)
            else ""
        )
        return (
            f"With uncertain inputs ({'coupled' if self.coupled else 'drives one by one on their bus'}) "
            f"the mix keeps limits and margin in {100.0 * self.share_passing:.0f} % of "
            f"{len(self.runs)} samples (95 % confidence: {low:.0f} to {high:.0f} %), the limits alone in "
            f"{100.0 * self.share_within:.0f} %{spread}"
        )

    @property
    def interval(self) -> tuple[float, float]:
        """Exact (Clopper-Pearson) 95 % confidence interval of the share that passes."""
        test = binomtest(int(self.runs["passes"].sum()), len(self.runs))
        found = test.proportion_ci(CONFIDENCE, method="exact")
        return float(found.low), float(found.high)


def robustness(
    problem: Problem, mix: Mix, samples: Iterable[tuple[LimitCase, ...]], coupled: bool = False
) -> Robustness:
    """Study a mix for each of the sampled sets of cases.

    Parameters
    ----------
    problem : Problem
        Its drives, filters and margin.
    mix : Mix
        The mix.
    samples : iterable of tuple of LimitCase
        For each sample the cases of the study with varied inputs.
    coupled : bool
        Study coupled.

    Raises
    ------
    InputError
        No sample.
    """
    rows = []
    for cases in samples:
        try:
            assessment = assess_mix(replace(problem, cases=cases, unknowns=()), mix, coupled)
        except NoSolutionError as reason:
            rows.append((np.nan, np.nan, "", False, str(reason)))
            continue
        rows.append((assessment.tdd_pct, assessment.margin_left_pct, assessment.text, assessment.passes, ""))
    if not rows:
        raise InputError("samples", "empty", "one sample or more")
    columns = ["TDD %", "margin left %", "binding", "passes", "remark"]
    return Robustness(pd.DataFrame(rows, columns=columns), coupled)
