"""The search against exhaustive enumeration, which knows nothing of tangents, groups or regimes.

Both take the angles of the buses at one mix; what that makes wrong, `choose` corrects by the exact study.
"""

from __future__ import annotations

import math

import pytest

from xlcalc.mitigation.assessment.assess import assess_mix
from xlcalc.mitigation.milp.model import build
from xlcalc.mitigation.milp.search import Effort, least_cost
from xlcalc.mitigation.mix import mix_of

EXACT = Effort(gap_pct=0.0, seconds=60.0)


@pytest.mark.parametrize("seed", range(50))
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
