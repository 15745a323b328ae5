"""ngspice, run here and now: drives recorded at their terminals, and their unknown inputs found again.

Noise of 0.5 %, 12 bits, 49.9 Hz (tests/recordings.py). tests/benchmarks/test_fit_recovery.py does the same
on 50 circuits and holds the stated intervals against 200 runs.
"""

from __future__ import annotations

from types import ModuleType

import numpy as np
import pytest

from xlcalc.measurement.fit.estimate import estimate
from xlcalc.measurement.fit.point import operating_point


def test_inputs_come_back(spice: ModuleType, loaded, tmp_path) -> None:
    recordings = loaded("recordings.py")
    rng = np.random.default_rng(8)
    case = recordings.random_case(rng)
    line = recordings.simulated(case, spice, tmp_path)
    point = operating_point(recordings.recorded(case, line, rng), nominal_hz=50.0)
    assert point.hz == pytest.approx(49.9, rel=1e-5)
    found = estimate([point], case.guess, volts=case.volts, rated_watts=case.watts)
    for name, value in zip(found.names, found.values, strict=True):
        if "deg" not in name:
            assert value == pytest.approx(case.truth[name], rel=0.05), name
    assert found.misfit < 1.5
    assert found.indistinguishable == ()
    assert found.remarks == ()
