"""Speed of the engine against ngspice on the same circuits, as ratios measured in one run.

ngspice runs 30 cycles of 60 Hz at an 8 microsecond step, as its user would; the engine's answer is the
settled state. Nothing is asserted about time; the ratios are printed (pytest -s).
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from xlcalc.core.errors import NoSolutionError
from xlcalc.rectifier.circuit import LOAD_KINDS, Circuit, DCLink
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.rectifier.steady_state import solve, solve_many

VOLTS, WATTS, HZ = 480.0, 12_500.0, 60.0
STEPS_PER_CYCLE = 2083  # 8 microseconds
CYCLES = 30


def in_si(front_end: FrontEnd) -> Circuit:
    """The per-unit circuit of a front end at 480 V, 60 Hz and 12.5 kW."""
    unit = front_end.circuit()
    ohms = VOLTS**2 / WATTS
    henry = ohms / (2.0 * np.pi * HZ)
    return replace(
        unit,
        supply=replace(
            unit.supply,
            volts=VOLTS,
            hz=HZ,
            inductance=unit.supply.inductance * henry,
            resistance=unit.supply.resistance * ohms,
        ),
        reactor=replace(
            unit.reactor,
            inductance=unit.reactor.inductance * henry,
            resistance=unit.reactor.resistance * ohms,
        ),
        bridges=tuple(
            replace(
                bridge,
                inductance=bridge.inductance * henry,
                resistance=bridge.resistance * ohms,
                choke_inductance=bridge.choke_inductance * henry,
                choke_resistance=bridge.choke_resistance * ohms,
            )
            for bridge in unit.bridges
        ),
        dc_link=DCLink(
            unit.dc_link.capacitance / (ohms * 2.0 * np.pi * HZ),
            unit.dc_link.esr * ohms,
        ),
        load=replace(unit.load, value=unit.load.value * WATTS),
    )


def typical_seconds(count: int, work: Callable[[], object]) -> float:
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return statistics.median(times)


SIX = FrontEnd(6, 0.5, reactor_pct=3.0)
TWELVE = FrontEnd(12, 0.5, choke_pct=4.0, unbalance_pct=1.0)
EIGHTEEN = FrontEnd(18, 0.5, choke_pct=4.0, unbalance_pct=1.0)


@pytest.mark.parametrize(
    ("name", "front_end"),
    [
        ("balanced 6-pulse", SIX),
        ("unbalanced 12-pulse", TWELVE),
        ("unbalanced 18-pulse", EIGHTEEN),
    ],
)
def test_one_case(name: str, front_end: FrontEnd, spice: ModuleType, tmp_path: Path) -> None:
    circuit = in_si(front_end)
    state = solve(circuit)
    run = spice.simulate(circuit, tmp_path, steps_per_cycle=STEPS_PER_CYCLE, cycles=CYCLES)
    ours = typical_seconds(30, lambda: solve(circuit))
    apart = np.abs(run.line_current - np.array([phase.phasors for phase in state.line_current])).max()
    print(
        f"\n{name}: ngspice {run.seconds:.2f} s, engine {1e3 * ours:.2f} ms, {run.seconds / ours:.0f} times"
    )
    assert apart < 0.01 * state.line_current[0].fundamental


@pytest.mark.parametrize(
    ("name", "front_end", "count"),
    [("balanced 6-pulse", SIX, 10_000), ("unbalanced 12-pulse", TWELVE, 1_000)],
)
def test_batch(name: str, front_end: FrontEnd, count: int, spice: ModuleType, tmp_path: Path) -> None:
    random = np.random.default_rng(1)
    circuits = [
        in_si(replace(front_end, source_pct=float(s), load_pct=float(p)))
        for s, p in zip(random.uniform(0.5, 3.0, count), random.uniform(40.0, 110.0, count), strict=True)
    ]
    run = spice.simulate(circuits[0], tmp_path, steps_per_cycle=STEPS_PER_CYCLE, cycles=CYCLES)
    solve(circuits[0])
    begin = time.perf_counter()
    results = solve_many(circuits)
    seconds = time.perf_counter() - begin
    print(
        f"\n{count} different {name} drives: {seconds:.2f} s, {1e3 * seconds / count:.3f} ms each, "
        f"the time of {seconds / run.seconds:.1f} ngspice runs"
    )
    assert not any(isinstance(result, NoSolutionError) for result in results)


@pytest.mark.parametrize(("front_end", "count"), [(SIX, 3_000), (TWELVE, 500)])
def test_load_kinds(front_end: FrontEnd, count: int) -> None:
    """The current of a load of mean power is one more unknown; asked for: below 1.5 of a constant power."""
    random = np.random.default_rng(1)
    draws = list(zip(random.uniform(0.5, 3.0, count), random.uniform(40.0, 110.0, count), strict=True))
    seconds = {}
    for kind in LOAD_KINDS:
        circuits = [
            replace(front_end, source_pct=float(s), load_pct=float(p), load_kind=kind).circuit()
            for s, p in draws
        ]
        solve(circuits[0])
        results: list[object] = []
        seconds[kind] = typical_seconds(3, lambda c=circuits, r=results: r.extend(solve_many(c, workers=1)))
        assert not any(isinstance(result, NoSolutionError) for result in results)
    ratios = ", ".join(f"{kind} {value / seconds['power']:.2f}" for kind, value in seconds.items())
    print(f"\n{front_end.pulses} pulses, time against constant power at every instant: {ratios}")
