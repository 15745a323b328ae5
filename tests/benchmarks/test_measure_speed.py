"""Six channels at 20 kHz reduced to 200 ms spectra, against the library pqopen-lib on the same samples.

The library, which is general-purpose and sums the lines of the same subgroups, is not among the requirements
of the tests: pip install pqopen-lib. It finds windows by zero crossings of one channel, resamples each
linearly to a power of two, and computes powers and values of single cycles as well; its values differ by that
interpolation. What is compared is the processor time of each for what it gives, in one process and by turns
of some seconds: the clock would count what else the machine does.

XLCALC_SPEED_MINUTES sets the length of that record (3), XLCALC_MINUTES that of the larger one whose memory
is compared (24).
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import xlcalc as xl
from xlcalc.measurement.groups import harmonic_subgroups
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.measurement.windows import windows

RATE, HZ = 20_000, 49.97
SLICE = 5
"""Seconds that both reduce by turns, so that what else the machine does meets both."""
SECONDS = 60 * int(os.environ.get("XLCALC_SPEED_MINUTES", "3"))
MINUTES = int(os.environ.get("XLCALC_MINUTES", "24"))
ORDERS = {1: 1.0, 5: 0.06, 7: 0.04, 11: 0.02, 13: 0.01}
MEASURE = """
import sys, xlcalc as xl
found = xl.read_record(sys.argv[1]).windows()
status = open("/proc/self/status").read()
print(len(found), next(line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")))
"""


def signals(seconds: float) -> np.ndarray:
    t = np.arange(int(RATE * seconds)) / RATE
    columns = []
    for rms, lag in ((230.0, 0.0), (50.0, 0.6)):
        for k in range(3):
            angle = 2.0 * np.pi * (HZ * t - k / 3.0) - lag
            columns.append(np.sqrt(2.0) * rms * sum(a * np.cos(h * angle) for h, a in ORDERS.items()))
    return np.column_stack(columns)


@pytest.mark.timeout(0)
def test_against_a_reference_library() -> None:
    pytest.importorskip("pqopen")
    from daqopen.channelbuffer import AcqBuffer
    from pqopen.powersystem import PowerSystem

    samples = signals(SECONDS)
    channels = tuple(
        Channel(f"{letter}{phase}", quantity, phase)
        for letter, quantity in (("U", "voltage"), ("I", "current"))
        for phase in "abc"
    )
    recording = Recording(samples=samples, rate=float(RATE), channels=channels)
    next(windows(recording))  # compiles the kernels where that has not been done
    row = windows(recording)
    buffers = [AcqBuffer(size=60 * RATE) for _ in channels]
    system = PowerSystem(zcd_channel=buffers[0], input_samplerate=RATE, nper=10)
    for k in range(3):
        system.add_phase(u_channel=buffers[k], i_channel=buffers[3 + k])
    system.enable_harmonic_calculation(50)
    mine: list[np.ndarray] = []
    own, other = [], []
    for end in range(SLICE, SECONDS + 1, SLICE):
        began = time.process_time()
        for window in row:
            mine.append(harmonic_subgroups(window.magnitude, window.cycles)[0])
            if window.start_s >= end - 0.2:
                break
        own.append(time.process_time() - began)
        began = time.process_time()
        for first in range(RATE * (end - SLICE), RATE * end, RATE):
            for k, buffer in enumerate(buffers):
                buffer.put_data(samples[first : first + RATE, k])
            system.process()
        other.append(time.process_time() - began)
    values, _ = system.output_channels["U1_H_rms"].read_data_by_acq_sidx(
        RATE * (SECONDS - 60), RATE * SECONDS
    )
    ratio, usual = sum(other) / sum(own), np.median(np.array(other) / np.array(own))
    print(f"\n{SECONDS} s, {len(mine)} windows: {sum(own):.2f} s, pqopen {sum(other):.2f} s")
    print(f"ratio {ratio:.1f}, median of slices of {SLICE} s {usual:.1f}")
    wanted = 230.0 * np.array([ORDERS.get(h, 0.0) for h in range(1, 51)])
    for name, found in (("this package", np.array(mine)), ("pqopen", np.asarray(values)[:, 1:])):
        off = np.abs(found[:, :13] - wanted[:13]).max()
        print(f"{name}: largest error of an order up to 13: {off:.2e} V")
    restarts = SECONDS // 600  # windows begin anew at each 10-minute mark
    assert 0 <= len(mine) - int(SECONDS * HZ / 10) <= 2 * restarts
    assert np.abs(np.array(mine) - wanted).max() < 1e-4
    assert np.abs(np.asarray(values)[:, 1:14] - wanted[:13]).max() < 0.5


@pytest.mark.timeout(0)
def test_memory_is_flat(tmp_path: Path) -> None:
    if not Path("/proc/self/status").exists():
        pytest.skip("needs /proc to measure the peak of a process")
    part = np.round(signals(60.0) / [0.02] * 1.0).astype("<i2")
    peaks = {}
    for minutes in (MINUTES // 2, MINUTES):
        count = minutes * len(part)
        layout = np.dtype([("number", "<u4"), ("stamp", "<u4"), ("values", "<i2", (6,))])
        with (tmp_path / "site.dat").open("wb") as stream:
            for k in range(minutes):
                rows = np.zeros(len(part), layout)
                rows["number"] = np.arange(1 + k * len(part), 1 + (k + 1) * len(part))
                rows["stamp"] = 0xFFFFFFFF
                rows["values"] = part
                stream.write(rows.tobytes())
        names = [f"{letter}{phase}" for letter in "UI" for phase in "abc"]
        lines = [f"{k},{n},,,{'VA'[k > 3]},0.02,0,0,-32767,32767,1,1,P" for k, n in enumerate(names, start=1)]
        start = "02/03/2026,00:00:00.000000"
        head = ["Site,Recorder,1999", "6,6A,0D", *lines, "50", "1", f"{RATE},{count}", start, start]
        (tmp_path / "site.cfg").write_text("\n".join([*head, "BINARY", "1", ""]), encoding="utf-8")
        began = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-c", MEASURE, str(tmp_path / "site.cfg")],
            capture_output=True,
            text=True,
            check=True,
        )
        rows_found, peak = done.stdout.split()
        peaks[minutes] = int(peak) / 1024.0
        spent = time.perf_counter() - began
        print(f"\n{minutes} min: {rows_found} rows in {spent:.0f} s, peak {peaks[minutes]:.0f} MiB")
    assert max(peaks.values()) < 2_048
    assert peaks[MINUTES] < 1.15 * peaks[MINUTES // 2]


def test_a_week_is_judged(tmp_path: Path) -> None:
    """1008 values of 10 minutes of orders 1 to 50 and the THD of three voltages, read and judged."""
    time_of = pd.date_range("2026-03-02", periods=1_008, freq="10min").strftime("%Y-%m-%d %H:%M:%S")
    rng = np.random.default_rng(5)
    frame = {"time": time_of}
    for phase in "abc":
        frame |= {f"U{phase} h{h} (%)": rng.random(1_008) * (1.0 if h < 8 else 0.05) for h in range(2, 51)}
        frame[f"THD U{phase} (%)"] = 2.0 + rng.random(1_008)
    pd.DataFrame(frame).to_csv(tmp_path / "week.csv", index=False)
    began = time.process_time()
    record = xl.read_record(tmp_path / "week.csv")
    read = time.process_time() - began
    judged = [record.judge_voltage(kv=0.4), record.judge_en50160("LV")]
    spent = time.process_time() - began
    print(f"\na week: read in {read:.2f} s, judged by two standards {spent:.2f} s after the start")
    assert all(one.verdicts for one in judged)
