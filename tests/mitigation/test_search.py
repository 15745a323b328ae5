"""The search against exhaustive enumeration, which knows nothing of tangents, groups or regimes.

Both take the angles of the buses at one mix; what that makes wrong, `choose` corrects by the exact study.
"""

from __future__ import annotations

import math
import os

import pytest

from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.milp.model import build
from xlcalc.mitigation.milp.search import Effort, least_cost
from xlcalc.mitigation.mix import mix_of

LONG = set() if os.environ.get("XLCALC_LONG") else {7, 12, 15, 25, 49}
"""Problems that take more than nine seconds each; with XLCALC_LONG=1 they are tried too."""
EXACT = Effort(gap_pct=0.0, seconds=60.0)


@pytest.mark.parametrize("seed", sorted(set(range(50)) - LONG))
def test_agrees_with_enumeration(sites, enumeration, seed):
    problem = sites.random_problem(seed)
    expected, _ = enumeration.cheapest(problem)
    model = build(problem)
    found = least_cost(model, model.limits, EXACT)
    if math.isinf(expected):
        assert found.impossible
        return
    assert found.cost == pytest.approx(expected, rel=1e-9)
    assert found.bound == pytest.approx(expected, rel=1e-6)
    assert assess_mix(problem, mix_of(model, found.unknowns)).binding[0].ratio < 1.02
