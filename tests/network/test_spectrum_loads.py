"""Loads with their own spectrum: from rows of tables to the PCC, triplens, and the neutral."""

from __future__ import annotations

import math
import subprocess
from dataclasses import replace
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import Spectrum
from xlcalc.network.from_rows import network_from_rows
from xlcalc.network.nodal import NodalNetwork
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import StudiedPlant
from xlcalc.studies.solution import solve_injected
from xlcalc.studies.sources import Summation
from xlcalc.studies.verdict.assessment import assess

UPS = {"name": "UPS-1", "bus": "M", "kind": "spectrum", "orders not listed": "zero", "kw": 90.0, "pf": 0.9}
LED = {"name": "LED-1", "bus": "M", "kind": "spectrum", "orders not listed": "zero", "kw": 40.0, "pf": 0.95}


def order(
    load: str, h: int, percent: float, deg: float | None = None, source: str | None = "data sheet"
) -> Any:
    return {"load": load, "order": h, "percent": percent, "deg": deg, "source": source}


def network(loads: list[Any], spectra: list[Any], group: str = "Dyn11") -> NodalNetwork:
    return network_from_rows(
        {
            "buses": [{"name": "U", "kv": 20.0}, {"name": "M", "kv": 0.4}],
            "utility": [{"bus": "U", "max mva": 500.0, "min mva": None, "x/r": 10.0}],
            "transformers": [
                {"name": "T", "from bus": "U", "to bus": "M", "kva": 1000.0, "z pct": 6.0, "x/r": 8.0}
                | {"vector group": group, "primary kv": None, "secondary kv": None, "tap pct": 0.0}
            ],
            "cables": [],
            "capacitors": [],
            "generators": [],
            "loads": loads,
            "spectra": spectra,
        }
    )


def test_all_of_a_harmonic_flows_to_the_supply() -> None:
    """Nothing else takes it: 33 % of the fundamental at the PCC as at the load, by hand."""
    solution = solve_injected(network([UPS], [order("UPS-1", 5, 33.0, 180.0)]), ())
    pcc = solution.pcc(PccOptions("U"))
    assert pcc.current.percent[4] == pytest.approx(33.0, rel=1e-6)
    assert pcc.fundamental_amps * math.sqrt(3) * 20.0 == pytest.approx(90.0 / 0.9, rel=0.02)
    drawn = solution.flow.machine_current("UPS-1")
    assert np.abs(drawn[0, 4] / drawn[0, 0]) == pytest.approx(0.33)


@pytest.mark.parametrize(("degrees", "total"), [(180.0, 2.0), (0.0, 18.0), (None, 18.0)])
def test_known_angles_may_cancel_and_unknown_ones_add(degrees: float | None, total: float) -> None:
    """10 A and 8 A of order 7: 2 A in opposition, 18 A in phase and where one angle is not known."""
    own = network([UPS], [order("UPS-1", 7, 10.0, 0.0)])
    both = network(
        [UPS, UPS | {"name": "UPS-2"}], [order("UPS-1", 7, 10.0, 0.0), order("UPS-2", 7, 8.0, degrees)]
    )
    alone, found = (solve_injected(one, ()).pcc(PccOptions("U")) for one in (own, both))
    ratio = found.current.magnitude[6] / alone.current.magnitude[6]
    assert ratio == pytest.approx(total / 10.0, rel=1e-2)


def test_the_law_of_exponents_counts_each_load() -> None:
    """Order 7 of 10 and 8 %: exponent 1.4, by hand."""
    both = network([UPS, UPS | {"name": "UPS-2"}], [order("UPS-1", 7, 10.0), order("UPS-2", 7, 8.0)])
    pcc = solve_injected(both, ()).pcc(PccOptions("U", summation=Summation.EXPONENTS))
    one = (10**1.4 + 8**1.4) ** (1 / 1.4) / 2.0
    assert pcc.current.percent[6] == pytest.approx(one, rel=2e-3)


def test_triplens_leave_no_verdict_where_nothing_blocks_them() -> None:
    spectra = [order("LED-1", 3, 20.0, 0.0), order("LED-1", 5, 4.0, 0.0)]
    options = PccOptions("U", demand_amps=10.0)
    blocked = assess(StudiedPlant(network([LED], spectra), ()), options, supply="ideal")
    assert blocked.judgement.word == "PASS"
    assert blocked.pcc is not None
    assert blocked.pcc.current.magnitude[2] == pytest.approx(0.0, abs=1e-9)
    for plant, pcc in ((network([LED], spectra), "M"), (network([LED], spectra, "YNyn0"), "U")):
        found = assess(
            StudiedPlant(plant, ()), replace(options, pcc=pcc, demand_amps=None), supply="ideal"
        ).judgement
        assert found.word == "NO VERDICT"
        assert "orders 3, 9, ... of load LED-1" in found.reason


def test_sources_and_the_sum_by_exponents_stand_beside_the_verdict() -> None:
    spectra = [order("UPS-1", 5, 5.0, source="measured 2026"), order("UPS-1", 7, 3.0, source=None)]
    found = assess(
        StudiedPlant(network([UPS], spectra), ()), PccOptions("U", demand_amps=4.0), supply="ideal"
    )
    text = " ".join(found.remarks)
    assert "load UPS-1: spectrum from measured 2026" in text
    assert "angles of UPS-1 not given" in text


@pytest.mark.parametrize(
    ("loads", "spectra", "words"),
    [
        ([UPS], [], "spectrum.*rows of UPS-1 in the table of spectra"),
        ([UPS], [order("UPS-9", 5, 1.0)], "load of UPS-9.*UPS-9.*one of UPS-1"),
        (
            [UPS | {"kind": "motor", "starting ratio": 6.0}],
            [order("UPS-1", 5, 1.0)],
            "a load whose kind is spectrum",
        ),
        ([UPS], [order("UPS-1", 5, 1.0, source=None)], "source of UPS-1"),
        ([UPS], [order("UPS-1", 5, 1.0), order("UPS-1", 5, 2.0)], "5 twice"),
    ],
)
def test_bad_tables_name_the_row(loads: list[Any], spectra: list[Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        network(loads, spectra)


DECK = """single-phase rectifiers on three phases and a neutral
Va sa 0 sin(0 325.27 60 0 0 90)
Vb sb 0 sin(0 325.27 60 0 0 -30)
Vc sc 0 sin(0 325.27 60 0 0 -150)
Vn n 0 0
.model d d(is=1e-9 n=0.5 rs=5m)
{phases}
.options method=gear maxord=2 reltol=1e-4 trtol=1e6 gmin=1e-9 rshunt=1e7
.tran 16.6667u 0.4 0.383333 16.6667u uic
.control
run
wrdata {out} i(va) i(vn)
.endc
.end
"""
PHASE = """L{p} s{p} l{p} 0.4m
R{p} l{p} x{p} 0.05
D1{p} x{p} p{p} d
D2{p} m{p} x{p} d
D3{p} n p{p} d
D4{p} m{p} n d
C{p} p{p} m{p} 1500u ic=300
RL{p} p{p} m{p} 60
"""


def test_neutral_of_single_phase_rectifiers(spice: ModuleType, tmp_path: Path) -> None:
    """ngspice: four-diode bridges with capacitors between each phase and the neutral; within 1 %."""
    out = tmp_path / "wave.txt"
    deck = tmp_path / "neutral.cir"
    deck.write_text(DECK.format(phases="".join(PHASE.format(p=p) for p in "abc"), out=out))
    subprocess.run(["ngspice", "-b", str(deck)], check=False, capture_output=True, timeout=120)
    data = np.loadtxt(out)
    times = np.linspace(data[0, 0], data[0, 0] + 1 / 60, 1000, endpoint=False)
    phase, neutral = (np.interp(times, data[:, 0], data[:, k]) for k in (1, 3))
    phasors = np.fft.rfft(phase)[1:51] * math.sqrt(2.0) / times.size
    rms = math.sqrt(float(np.mean(neutral**2)))
    assert rms > 1.2 * math.sqrt(float(np.mean(phase**2)))
    assert Spectrum(phasors).neutral_amps == pytest.approx(rms, rel=0.01)
