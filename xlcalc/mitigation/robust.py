"""How robust a mix is: the exact study repeated for sampled inputs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy.stats import binomtest

from xlcalc.errors import InputError, NoSolutionError
from xlcalc.mitigation.judge import study_mix
from xlcalc.mitigation.mix import Mix
from xlcalc.mitigation.problem import Case, Problem

CONFIDENCE = 0.95


@dataclass(frozen=True, eq=False)
class Robustness:
    """Outcome of a mix over sampled inputs.

    Parameters
    ----------
    runs : DataFrame
        One row per sample: TDD, margin left (both percent), binding item, passes, remark.
    """

    runs: pd.DataFrame

    @property
    def share_passing(self) -> float:
        return float(self.runs["passes"].mean())

    @property
    def interval(self) -> tuple[float, float]:
        """Exact (Clopper-Pearson) 95 % confidence interval of the share that passes."""
        test = binomtest(int(self.runs["passes"].sum()), len(self.runs))
        found = test.proportion_ci(CONFIDENCE, method="exact")
        return float(found.low), float(found.high)


def robustness(
    problem: Problem, mix: Mix, samples: Iterable[tuple[Case, ...]], coupled: bool = False
) -> Robustness:
    """Study a mix for each of the sampled sets of cases.

    Parameters
    ----------
    problem : Problem
        Its drives, filters and margin.
    mix : Mix
        The mix.
    samples : iterable of tuple of Case
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
            ruling = study_mix(replace(problem, cases=cases), mix, coupled)
        except NoSolutionError as reason:
            rows.append((np.nan, np.nan, "", False, str(reason)))
            continue
        rows.append((ruling.tdd_pct, ruling.margin_left_pct, ruling.text, ruling.passes, ""))
    if not rows:
        raise InputError("samples", "empty", "one sample or more")
    return Robustness(pd.DataFrame(rows, columns=["TDD %", "margin left %", "binding", "passes", "remark"]))
