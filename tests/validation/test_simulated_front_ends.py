"""Ten front ends computed beforehand with ngspice at 1/16384 cycle (data/simulated_front_ends_*.csv).

480 V, 60 Hz, 12.5 kVA base, 750 uF, diodes of 0.03 V + 1 mohm; angles against the positive-sequence source
EMF.
"""

from __future__ import annotations

import cmath
import csv
import math
from functools import cache
from pathlib import Path

import pytest

from xlcalc.rectifier.circuit import Bridge, Circuit, DCLink, Diode, Load, Reactor, ThreePhaseSource
from xlcalc.rectifier.result import SteadyState
from xlcalc.rectifier.steady_state import solve
from xlcalc.rectifier.trace import waveforms

DATA = Path(__file__).parent / "data"
WITHIN_PCT = 0.02


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / f"simulated_front_ends_{name}.csv").open() as file:
        return list(csv.DictReader(file))


CIRCUITS = {row["case"]: row for row in rows("circuits")}


@cache
def state(case: str) -> SteadyState:
    row = CIRCUITS[case]
    value = {
        key: float(text) for key, text in row.items() if key.endswith(("_mH", "_mohm", "V2_pct", "V2_ang"))
    }
    unbalance = value["V2_pct"] / 100.0 * cmath.exp(1j * math.radians(value["V2_ang"]))
    kind = {"P": "power", "I": "current"}[row["load"]]
    return solve(
        Circuit(
            ThreePhaseSource(480.0, 60.0, value["Ls_mH"] / 1e3, value["Rs_mohm"] / 1e3, unbalance),
            DCLink(750e-6),
            Load(kind, float(row["load_value"].split()[0])),
            tuple(
                Bridge(
                    float(shift),
                    value["leak_mH"] / 1e3,
                    value["leak_mohm"] / 1e3,
                    value["Ldc_mH"] / 1e3,
                    value["Rdc_mohm"] / 1e3,
                )
                for shift in row["theta_deg"].split("/")
            ),
            Reactor(value["Lr_mH"] / 1e3, value["Rr_mohm"] / 1e3),
            Diode(0.03, 1e-3),
        )
    )


@pytest.mark.parametrize("case", CIRCUITS)
def test_every_order_as_phasor(case: str) -> None:
    checked = 0
    for row in rows("spectra"):
        if row["case"] != case:
            continue
        current = state(case).line_current["abc".index(row["phase"])]
        ours = 100.0 * current.phasors[int(row["h"]) - 1] / current.fundamental
        percent = float(row["pct"])
        if row["phase_deg"]:
            difference = abs(ours - percent * cmath.exp(1j * math.radians(float(row["phase_deg"]))))
        else:
            difference = abs(abs(ours) - percent)
        assert difference < WITHIN_PCT, (row["phase"], row["h"])
        checked += 1
    assert checked >= 9


@pytest.mark.parametrize("row", rows("results"), ids=lambda row: f"{row['case']}-{row['phase']}")
def test_totals(row: dict[str, str]) -> None:
    result = state(row["case"])
    phase = "abc".index(row["phase"])
    current = result.line_current[phase]
    assert current.fundamental == pytest.approx(float(row["I1_A"]), rel=1e-4)
    assert result.line_rms[phase] == pytest.approx(float(row["Irms_A"]), rel=1e-4)
    assert current.thd_pct == pytest.approx(float(row["THD50_pct"]), abs=0.01)
    assert result.dc_volts_mean == pytest.approx(float(row["Vdc_V"]), rel=2e-5)
    assert result.dc_volts_max - result.dc_volts_min == pytest.approx(float(row["Vdc_pp_V"]), abs=0.01)
    assert result.source_power_factor == pytest.approx(float(row["PF_src"]), abs=5e-5)
    assert result.source_displacement_power_factor == pytest.approx(float(row["DPF_src"]), abs=5e-5)
    assert result.power_factor == pytest.approx(float(row["PF_term"]), abs=5e-5)
    assert result.displacement_power_factor == pytest.approx(float(row["DPF_term"]), abs=5e-5)
    _, waveform, _ = waveforms(result, 3600)
    assert max(abs(waveform[phase])) == pytest.approx(float(row["peak_A"]), rel=2e-4)
