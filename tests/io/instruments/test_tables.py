"""Waveforms and logs in tables of several countries; what is wrong in them is named."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
import pytest

from xlcalc.core.errors import InputError
from xlcalc.io.instruments.records import read_recorder_log, read_recording
from xlcalc.measurement.judgement import judge_ieee519_current

NO_START = "no start time: intervals are counted from the first sample, shown as 1970-01-01"
RATE, COUNT = 6_400, 2_560
T = np.arange(COUNT) / RATE
VOLTS = [325.0 * np.cos(2 * np.pi * 50 * T - k * 2 * np.pi / 3) for k in range(3)]
AMPS = [14.0 * np.cos(2 * np.pi * 50 * T - k * 2 * np.pi / 3 - 0.4) for k in range(3)]


def number(value, decimal):
    return f"{value:.6f}".replace(".", decimal)


def table(columns, headings, delimiter=",", decimal=".", above=()):
    rows = (delimiter.join(number(c[k], decimal) for c in columns) for k in range(len(columns[0])))
    return "\n".join([*above, delimiter.join(headings), *rows]) + "\n"


def saved(folder, text, name="w.csv", encoding="utf-8"):
    (folder / name).write_text(text, encoding=encoding)
    return folder / name


@pytest.mark.parametrize(
    ("delimiter", "decimal", "headings", "above"),
    [
        (",", ".", ("Time (s)", "Ua (V)", "Ia (A)"), ()),
        (";", ",", ("t [ms]", "U L1 [kV]", "I L1 [mA]"), ("Recorder;7", "", "Site;north")),
        ("\t", ".", ("time", "Va", "I1"), ("# header",)),
        (" ", ".", ("t", "u1", "i1"), ()),
    ],
)
def test_delimiters_decimals_and_units(tmp_path, delimiter, decimal, headings, above):
    scale = (1e3, 1e-3, 1e3) if "ms" in headings[0] else (1.0, 1.0, 1.0)
    columns = [T * scale[0], VOLTS[0] * scale[1], AMPS[0] * scale[2]]
    recording = read_recording(saved(tmp_path, table(columns, headings, delimiter, decimal, above)))
    assert recording.rate == pytest.approx(RATE, rel=1e-5)
    assert [(c.quantity, c.phase) for c in recording.channels] == [("voltage", "a"), ("current", "a")]
    np.testing.assert_allclose(recording.samples[:, 0], VOLTS[0], atol=1e-3)
    np.testing.assert_allclose(recording.samples[:, 1], AMPS[0], atol=1e-3)
    assert recording.findings == (NO_START,)


def test_units_in_a_row_of_their_own_and_a_rate_in_the_map(tmp_path):
    path = saved(tmp_path, "Ua,Ub\nkV,kV\n" + table(VOLTS[:2], ("1", "2")).split("\n", 1)[1])
    with pytest.raises(InputError, match="without a time column; valid: rate in the map"):
        read_recording(path)
    (tmp_path / "m.toml").write_text("rate = 6400\nstart = 2026-03-02T10:00:00+01:00\n", encoding="utf-8")
    recording = read_recording(path, tmp_path / "m.toml")
    np.testing.assert_allclose(recording.samples[:, 1], 1000.0 * VOLTS[1], atol=1e-2)
    assert recording.start == np.datetime64("2026-03-02T09:00:00")


def test_a_gap_is_filled_with_nothing_and_named(tmp_path):
    kept = np.r_[0:1000, 1010:COUNT]
    path = saved(tmp_path, table([T[kept], VOLTS[0][kept]], ("time (s)", "Ua (V)")))
    recording = read_recording(path)
    assert recording.samples.shape == (COUNT, 1)
    assert np.isnan(recording.samples[1000:1010, 0]).all()
    assert any("row 1002: 10 samples are missing" in note for note in recording.findings)


@pytest.mark.parametrize(
    ("change", "note"),
    [
        (lambda t: t * (1.0 + 0.004 * t), "the clock drifts: the distance of the samples goes from 156."),
        (lambda t: t + np.random.default_rng(1).uniform(-0.2, 0.2, t.size) / RATE, "lie up to 0.2 of their"),
        (lambda t: np.round(t * 1.1 * RATE * 1e-4, 4), "lie up to 0.4. of their distance beside an even row"),
    ],
)
def test_a_clock_that_drifts_jitters_or_is_rounded_loses_no_sample(tmp_path, change, note):
    """Also where some samples lack in earnest: they are counted, and no others."""
    for kept, missing in ((np.arange(COUNT), 0), (np.r_[0:1000, 1010:COUNT], 10)):
        if missing and "even row" in note:
            continue
        path = saved(tmp_path, table([change(T)[kept], VOLTS[0][kept]], ("time (s)", "Ua (V)")))
        recording = read_recording(path)
        assert recording.samples.shape == (COUNT, 1)
        assert np.isnan(recording.samples[:, 0]).sum() == missing
        assert any(re.search(note, finding) for finding in recording.findings)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda t: np.r_[t[:50], t[49], t[51:]], "row 52: the time .* is the same as in the row before"),
        (lambda t: np.r_[t[:50], t[20], t[51:]], "row 52: the time .* is before that of the row above"),
        (lambda t: np.r_[t[:50], np.nan, t[51:]], "time in w.csv, row 52 is missing|is no number"),
        (lambda t: t + 2.0 * t**2, "of a clock that drifts: .* a change of 1 % or less"),
        (lambda t: t + 0.95 / RATE * (np.arange(t.size) % 7 == 3), "even steps of about"),
    ],
)
def test_wrong_times_are_refused_by_row(tmp_path, change, message):
    path = saved(tmp_path, table([change(T), VOLTS[0]], ("time (s)", "Ua (V)")))
    with pytest.raises(InputError, match=message):
        read_recording(path)


def test_what_contradicts_or_is_not_known_is_refused(tmp_path):
    path = saved(tmp_path, table([T, VOLTS[0]], ("time (s)", "Ua (V)")))
    (tmp_path / "m.toml").write_text("rate = 10000\n", encoding="utf-8")
    with pytest.raises(InputError, match="rate is 10000 samples per second; valid: 6400"):
        read_recording(path, tmp_path / "m.toml")
    (tmp_path / "m.toml").write_text("speed = 10000\n", encoding="utf-8")
    with pytest.raises(InputError, match="unknown name 'speed'"):
        read_recording(path, tmp_path / "m.toml")
    with pytest.raises(InputError, match="without a heading that is recognised: foo, bar"):
        read_recording(saved(tmp_path, table([T, VOLTS[0]], ("foo", "bar")), "x.csv"))
    with pytest.raises(InputError, match="both voltage of phase a"):
        read_recording(saved(tmp_path, table([T, *VOLTS[:2]], ("t", "Ua", "UL1")), "x.csv"))
    with pytest.raises(InputError, match="without rows of numbers"):
        read_recording(saved(tmp_path, "no\ntable\n", "x.csv"))
    with pytest.raises(InputError, match="both decimal signs"):
        read_recording(saved(tmp_path, "t;Ua\n0,0;1.5\n0,1;1.5\n0,2;1.5\n", "x.csv"))
    with pytest.raises(InputError, match="of another kind"):
        read_recording(saved(tmp_path, "x", "x.pdf"))


def test_texts_among_the_numbers_are_missing_and_counted(tmp_path):
    text = table([T, VOLTS[0]], ("t", "Ua")).splitlines()
    text[100], text[200] = text[100].split(",")[0] + ",OL", text[200].split(",")[0] + ","
    recording = read_recording(saved(tmp_path, "\n".join(text)))
    assert np.flatnonzero(np.isnan(recording.samples[:, 0])).tolist() == [99, 199]
    assert any(
        "row 101: 'OL' in column Ua is no number; 1 such value counts" in n for n in recording.findings
    )


def test_parquet(tmp_path):
    pytest.importorskip("pyarrow")
    pd.DataFrame({"time (s)": T, "Ua (V)": VOLTS[0]}).to_parquet(tmp_path / "w.parquet")
    np.testing.assert_allclose(read_recording(tmp_path / "w.parquet").samples[:, 0], VOLTS[0])
    (tmp_path / "w.parquet").write_bytes(b"PAR1 no")
    with pytest.raises(InputError, match="no sound Parquet file"):
        read_recording(tmp_path / "w.parquet")


HEADINGS = ("time", *(f"{q}{p}" for q in "UI" for p in "abc"))


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ([*VOLTS, *AMPS], ""),
        ([*VOLTS, AMPS[0], AMPS[2], AMPS[1]], "current: the negative sequence"),
        ([*VOLTS, *(-wave for wave in AMPS)], "the active power of every phase is negative"),
        ([*VOLTS, AMPS[0], -AMPS[1], AMPS[2]], "current: phase b has the wrong sign"),
        (
            [*VOLTS, np.clip(AMPS[0], -12.0, 12.0), *AMPS[1:]],
            "Ia: .* samples in a row at the largest value 12",
        ),
        ([VOLTS[0], VOLTS[2], VOLTS[1], *AMPS], "voltage: the negative sequence"),
    ],
)
def test_what_is_implausible_is_named(tmp_path, columns, message):
    findings = "\n".join(read_recording(saved(tmp_path, table([T, *columns], HEADINGS))).findings)
    assert re.search(message, findings) if message else findings == NO_START


def log(count=1_008, seconds=600, fifth=3.0, start="2026-03-02T00:00", orders=range(2, 51)):
    time = pd.date_range(start, periods=count, freq=f"{seconds}s")
    frame = {"time": time.strftime("%Y-%m-%d %H:%M:%S")}
    for phase in "abc":
        frame |= {f"I{phase} h{h} (A)": np.full(count, 0.01 if h != 5 else fifth) for h in orders}
    return pd.DataFrame(frame)


def logged(folder, frame, **more):
    path = folder / "log.csv"
    frame.to_csv(path, index=False, **more)
    return path


def test_a_log_is_judged(tmp_path):
    """100 A of demand: 3 A of order 5 keep 4 % of it, 5 A do not (Isc/IL below 20)."""
    found = read_recorder_log(logged(tmp_path, log(), sep=";", decimal=","))
    assert [(entry.phase, entry.length) for entry in found.logs] == [(p, "10 min") for p in "abc"]
    series = [entry.series(100.0) for entry in found.logs]
    judgement = judge_ieee519_current(series, 15.0, 13.8, "2014")
    assert judgement.word == "NO VERDICT"
    assert "no 3 s values" in judgement.reason
    bad = [entry.series(100.0) for entry in read_recorder_log(logged(tmp_path, log(fifth=5.0))).logs]
    assert judge_ieee519_current(bad, 15.0, 13.8, "2014").word == "FAIL"
    with pytest.raises(InputError, match="base"):
        found.logs[0].series()


def test_an_unsorted_log_with_repeated_rows(tmp_path):
    frame = log(20)
    mixed = pd.concat([frame.iloc[10:], frame.iloc[:10], frame.iloc[5:7]])
    found = read_recorder_log(logged(tmp_path, mixed))
    assert found.logs[0].time.size == 20
    assert any("the rows were sorted" in note for note in found.findings)
    assert any("2 such were left out" in note for note in found.findings)
    other = frame.iloc[5:6].copy()
    other["Ia h5 (A)"] = 9.0
    with pytest.raises(InputError, match=r"log\.csv, row 22: the time .* is also that of row 7"):
        read_recorder_log(logged(tmp_path, pd.concat([frame, other])))


def test_daylight_saving(tmp_path):
    """The last Sunday of October 2026 in Vienna: 2:00 to 2:50 come twice, 150 intervals in 25 hours."""
    zone = pd.date_range("2026-10-25", periods=150, freq="10min", tz="Europe/Vienna")
    frame = log(150)
    frame["time"] = zone.strftime("%Y-%m-%d %H:%M:%S")
    frame["Ia h5 (A)"] = np.arange(150.0)
    with pytest.raises(InputError, match="set back for daylight saving, state time_zone"):
        read_recorder_log(logged(tmp_path, frame))
    (tmp_path / "m.toml").write_text('time_zone = "Europe/Vienna"\n', encoding="utf-8")
    found = read_recorder_log(logged(tmp_path, frame), tmp_path / "m.toml")
    assert found.logs[0].time.size == 150
    assert set(np.diff(found.logs[0].time)) == {np.timedelta64(600, "s")}
    spring = log(20, start="2026-03-29T00:00")
    spring["time"] = pd.date_range("2026-03-29", periods=20, freq="10min", tz="Europe/Vienna").strftime(
        "%Y-%m-%d %H:%M:%S"
    )
    notes = read_recorder_log(logged(tmp_path, spring)).findings
    assert any("6 intervals are missing" in note and "daylight saving" in note for note in notes)


def test_a_log_in_a_workbook_with_flags_and_totals(tmp_path):
    frame = log(12)
    frame["THD Ia"] = 3.5
    frame["Flagged"] = ["yes"] + [""] * 11
    frame["time"] = pd.to_datetime(frame["time"])
    frame.to_excel(tmp_path / "log.xlsx", index=False)
    found = read_recorder_log(tmp_path / "log.xlsx")
    assert found.logs[0].flagged.tolist() == [True] + [False] * 11
    assert found.logs[0].values[3, 4] == 3.0
    with pytest.raises(InputError, match="valid: 3 s or 10 min"):
        read_recorder_log(logged(tmp_path, log(12, seconds=60)))
