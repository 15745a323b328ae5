"""The most loaded phase and bridge."""

from __future__ import annotations

import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.derating import loading
from xlcalc.rectifier.drive import FrontEnd


def test_balanced_supply_loads_all_alike() -> None:
    even = loading(FrontEnd(12, 0.5, choke_pct=4.0))
    assert even.line == pytest.approx(1.0, abs=1e-9)
    assert even.bridge == pytest.approx(1.0, abs=1e-9)
    assert even.load_factor == pytest.approx(1.0, abs=1e-9)


def test_unbalance_overloads_a_phase_and_more_with_a_choke() -> None:
    bare = loading(FrontEnd(6, 0.5, reactor_pct=3.0, unbalance_pct=2.0))
    choke = loading(FrontEnd(6, 0.5, choke_pct=4.0, unbalance_pct=2.0))
    assert bare.line == pytest.approx(bare.bridge, rel=1e-12)
    assert choke.line > bare.line > 1.1
    assert choke.load_factor == pytest.approx(1.0 / choke.line)


def test_background_overloads_one_bridge_that_the_line_current_does_not_show() -> None:
    uneven = loading(FrontEnd(12, 0.5, choke_pct=4.0, background=((5, 3.0, 0.0),)))
    assert uneven.line < 1.01
    assert uneven.bridge > 1.1
    other = loading(FrontEnd(12, 0.5, choke_pct=4.0, background=((5, 3.0, 180.0),)))
    assert other.bridge_number != uneven.bridge_number


def test_no_solution_is_passed_on() -> None:
    with pytest.raises(NoSolutionError):
        loading(FrontEnd(6, 80.0, unbalance_pct=1.0))
