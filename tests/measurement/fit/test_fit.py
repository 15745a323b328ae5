"""The fit: its derivatives against numpy's differences, sequences by hand, and what it cannot know."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import xlcalc as xl
from xlcalc.core.errors import InputError
from xlcalc.measurement.fit.estimate import estimate
from xlcalc.measurement.fit.model import FitModel
from xlcalc.measurement.fit.point import OperatingPoint, operating_point
from xlcalc.measurement.fit.unknowns import FitSetting, unknowns
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.network.sequence import components
from xlcalc.rectifier.drive import FrontEnd, solve_front_end

ALL = ("mva", "xr", "background", "unbalance", "dc_capacitance_pu", "line_reactor_pct", "dc_choke_pct")
TRUE = FrontEnd(
    pulses=6,
    source_pct=3.0,
    reactor_pct=2.0,
    choke_pct=2.0,
    load_pct=80.0,
    background=((5, 1.0, 40.0), (7, 0.6, -100.0)),
    unbalance_pct=0.8,
    unbalance_deg=20.0,
)
VOLTS, WATTS = 400.0, 50e3


def measured(front_end: FrontEnd, last: int = 49, noise: float = 1e-4) -> OperatingPoint:
    """The exact phasors with a stated uncertainty, of each fundamental."""
    state = solve_front_end(front_end)
    rows = np.arange(1, last + 1, 2)
    volts, amps = (
        components(np.array([phase.phasors for phase in phases]))[1:, rows - 1] * base
        for phases, base in ((state.terminal_voltage, VOLTS), (state.line_current, WATTS / VOLTS))
    )
    error = [np.full(part.shape, noise * abs(part[0, 0])) for part in (volts, amps)]
    return OperatingPoint(
        orders=rows,
        volts=volts,
        amps=amps,
        volts_error=error[0],
        amps_error=error[1],
        hz=50.0,
        nominal_hz=50.0,
        windows=15,
        scatter=0.0,
    )


def fitted(points, free, start=TRUE):
    return estimate(points, start, volts=VOLTS, rated_watts=WATTS, free=free)


def test_derivatives_are_those_of_differences():
    """Central differences of the residuals; what a source drops above order 50 is left out of its answers."""
    point = measured(TRUE)
    setting = FitSetting(front_end=TRUE, unknowns=unknowns(ALL, 1), shares_hz=(1.0,))
    model = FitModel(setting, [point], VOLTS, WATTS / VOLTS)
    start = {"source": np.log(2.5), "resistance": 0.3, "dc_capacitance_pu": np.log(4.0), "emf": 1.01}
    start |= {"line_reactor_pct": 2.2, "dc_choke_pct": 1.8, "angle": -0.02, "amps": np.log(0.6)}
    vector = np.array([start.get(u.name, 0.004 if u.part == "real" else -0.003) for u in setting.unknowns])
    found = model.jacobian(vector)
    for k, unknown in enumerate(setting.unknowns):
        step = np.zeros(vector.size)
        step[k] = 1e-5
        numeric = (model.residuals(vector + step) - model.residuals(vector - step)) / 2e-5
        limit = 1e-2 if unknown.name in ("source", "resistance") else 1e-3
        assert np.abs(found[:, k] - numeric).max() < limit * np.abs(numeric).max(), unknown


def test_two_operating_points_share_what_they_share():
    points = [measured(replace(TRUE, load_pct=load)) for load in (40.0, 90.0)]
    found = fitted(points, ALL, replace(TRUE, source_pct=1.0, reactor_pct=3.0, choke_pct=3.0))
    values = dict(zip(found.names, found.values, strict=True))
    assert values["mva"] == pytest.approx(WATTS / 1e4 / 3.0, rel=1e-3)
    assert values["load_pct 1"] == pytest.approx(40.0, rel=1e-4)
    assert values["load_pct 2"] == pytest.approx(90.0, rel=1e-4)
    assert values["line_reactor_pct"] == pytest.approx(2.0, rel=2e-3)
    assert values["dc_choke_pct"] == pytest.approx(2.0, rel=2e-3)
    assert values["background 5th deg"] == pytest.approx(40.0, abs=0.1)
    assert found.misfit < 0.1


def test_what_a_record_does_not_hold_is_named():
    """Fundamentals alone: two complex numbers, which voltage, load and angle explain for any source."""
    found = fitted([measured(TRUE.balanced(), last=1)], ("mva", "dc_capacitance_pu"), TRUE.balanced())
    errors = dict(zip(found.names, found.standard_errors, strict=True))
    assert not np.isfinite(errors["mva"]) or errors["mva"] > 0.5 * found.values[0]
    assert any("mva" in sentence for sentence in found.indistinguishable)


def test_a_wrong_drive_is_seen():
    """A drive believed to have no choke: what is held fixed does not fit, and the result says so."""
    found = fitted([measured(TRUE)], ("mva", "load_pct"), replace(TRUE, choke_pct=0.0))
    assert found.misfit > 3.0
    assert any("times their noise" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("free", "valid"),
    [
        (("strength",), "free is strength; valid: some of mva, xr"),
        (("background 9",), "5, 7, 11, 13, 17 to 49"),
        ((), "free is empty"),
    ],
)
def test_names_that_are_none(free, valid):
    with pytest.raises(InputError, match=valid):
        fitted([measured(TRUE)], free)


def test_power_out_of_the_drive_is_no_load():
    point = measured(TRUE)
    with pytest.raises(InputError, match="are a sign or two phases wrong"):
        fitted([replace(point, amps=-point.amps)], ("mva",))


def waves(*channels, swap=1.0):
    """0.4 s of 100 V and 10 A (to neutral, rms; lagging 60 degrees) with 4 % of a fifth, by hand."""
    t = np.arange(4_000) / 10_000
    columns = []
    for channel in channels:
        letters = channel[1:]
        total = np.zeros(t.size)
        for sign, phase in zip((1.0, -1.0), letters, strict=False):
            k = "abc".index(phase)
            rms, lag = (100.0, 0.0) if channel[0] == "U" else (10.0, np.pi / 3)
            angle = 2 * np.pi * (50.0 * t - swap * k / 3)
            wave = np.cos(angle - lag) + 0.04 * np.cos(5 * (angle - lag))
            total += sign * np.sqrt(2) * rms * wave
        columns.append(total)
    held = tuple(Channel(c, {"U": "voltage", "I": "current"}[c[0]], c[1:]) for c in channels)
    return Recording(samples=np.column_stack(columns), rate=10_000.0, channels=held)


@pytest.mark.parametrize(
    "channels",
    [
        ("Ua", "Ub", "Uc", "Ia", "Ib", "Ic"),
        ("Uab", "Ubc", "Uca", "Ia", "Ib", "Ic"),
        ("Uab", "Ubc", "Ia", "Ic"),
    ],
    ids=["phases", "line to line", "two of each"],
)
def test_sequences_by_hand(channels):
    """100 V and 10 A at 60 degrees: 3 x 100 x 10 x 1/2 W; the fifth, of negative sequence, 4 V and 0.4 A."""
    point = operating_point(waves(*channels))
    assert point.volts[0, 0] == pytest.approx(100.0, rel=1e-9)
    assert point.amps[0, 0] == pytest.approx(10.0 * np.exp(-1j * np.pi / 3), rel=1e-9)
    assert point.watts == pytest.approx(1_500.0)
    assert point.volts[1, 2] == pytest.approx(4.0, rel=1e-9)
    assert point.amps[1, 2] == pytest.approx(0.4 * np.exp(-5j * np.pi / 3), rel=1e-9)
    assert abs(point.volts[0, 2]) < 1e-9
    assert point.nominal_hz == 50.0


@pytest.mark.parametrize(
    ("channels", "what"),
    [
        (("Ua", "Ub", "Ia", "Ib", "Ic"), "phases of the voltage is a, b; valid: voltages a, b, c, or two of"),
        (("Ua", "Ub", "Uc", "Ia"), "phases of the current is a; valid: currents of two phases or three"),
        (("Ua", "Ub", "Uc"), "phases of the current is none"),
    ],
)
def test_too_few_channels(channels, what):
    with pytest.raises(InputError, match=what):
        operating_point(waves(*channels))


def test_from_python(tmp_path):
    """From a file to a better model, which gives the recorded spectrum again."""
    drive, supply = xl.Drive("P1", kw=50, pulses=6, line_reactor_pct=3), xl.Supply(kv=0.4, mva=4)
    known = xl.solve(drive, supply, {"dc capacitance pu": 2.0})
    state = known.state
    t = np.arange(6_000) / 10_000
    turning = np.exp(2j * np.pi * 50.0 * np.outer(np.arange(1, 51), t))
    amps = drive.rated_watts / 400.0
    frame = {}
    for k, phase in enumerate("abc"):
        for letter, phases, base in (("U", state.terminal_voltage, 400.0), ("I", state.line_current, amps)):
            frame[f"{letter}{phase}"] = np.sqrt(2) * base * np.real(phases[k].phasors @ turning)
    pd.DataFrame({"time (s)": t, **frame}).to_csv(tmp_path / "drive.csv", index=False)
    record = xl.read_record(tmp_path / "drive.csv")
    found = xl.fit(record, drive, xl.Supply(kv=0.4, mva=10), free=("mva", "dc_capacitance_pu"))
    assert found.values["mva"] == pytest.approx(4.0, rel=1e-3)
    assert found.supply.mva == pytest.approx(found.values["mva"])
    assert found.settings["dc capacitance pu"] == pytest.approx(2.0, rel=1e-3)
    assert (found.intervals["to"] > found.intervals["value"]).all()
    assert found.correlation.loc["mva", "mva"] == pytest.approx(1.0)
    assert found.residuals["difference %"].max() < 0.01
    assert set(found.residuals["quantity"]) == {"voltage", "current"}
    assert found.solve().thd_pct == pytest.approx(known.thd_pct, rel=1e-3)
    assert "mva: 4" in repr(found)
    with pytest.raises(InputError, match=r"what xl.read_record gives"):
        xl.fit("drive.csv", drive, supply)
    with pytest.raises(InputError, match="near the nominal 20000 V"):
        xl.fit(record, drive, xl.Supply(kv=20.0, mva=100))
