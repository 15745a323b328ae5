"""What goes wrong with recordings, item by item: what is whole is used, the rest is named and counted.

Each file is read as a whole and in pieces, as one that is larger than the memory.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import pandas as pd
import pytest

pytest.importorskip("comtrade")

import comtrade

import xlcalc as xl
from xlcalc.core.errors import InputError
from xlcalc.io.instruments import records
from xlcalc.measurement.pieces import LongRecording

RATE, SECONDS = 3_200, 1.3
T = np.arange(int(RATE * SECONDS)) / RATE
VOLTS = np.sqrt(2) * (230 * np.cos(2 * np.pi * 50.02 * T) + 7 * np.cos(2 * np.pi * 250.1 * T))
AMPS = np.sqrt(2) * 10 * np.cos(2 * np.pi * 50.02 * T - 0.5)


@pytest.fixture(scope="module")
def files(loaded: Callable[[str], ModuleType]) -> ModuleType:
    """Writers of COMTRADE records."""
    return loaded("io/instruments/test_comtrade_record.py")


@pytest.fixture(params=["whole", "pieces"], autouse=True)
def in_pieces(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    if request.param == "pieces":
        monkeypatch.setattr(records, "LONG_BYTES", 1)
        monkeypatch.setattr(records, "LONG_TEXT", 1)
    return bool(request.param == "pieces")


def table(folder: Path, columns: dict[str, object], name: str = "w.csv") -> Path:
    pd.DataFrame({"time (s)": T, **columns}).to_csv(folder / name, index=False, float_format="%.7f")
    return folder / name


def findings(record: xl.Record) -> str:
    return "\n".join(record.findings)


@pytest.mark.parametrize("kind", ["ASCII", "BINARY", "FLOAT32", "cff"])
def test_a_truncated_data_file(kind, files, tmp_path, in_pieces) -> None:
    """1000 rows and a part of one of 1280: 0.3125 s, one window of 0.2 s."""
    if kind == "cff":
        data = files.binary()[: 1000 * 16 + 7]
        head = f"--- file type: CFG ---\r\n{files.config('BINARY', '2013')}"
        path = tmp_path / "r.cff"
        path.write_bytes(f"{head}--- file type: DAT BINARY: 20480 ---\r\n".encode() + data)
    else:
        data = files.DATA[kind]()
        size = data.index(b"\n1001,") + 4 if kind == "ASCII" else 1000 * len(data) // 1280 + 7
        path = files.written(tmp_path, files.config(kind), data[:size])
    record = xl.read_record(path)
    assert isinstance(record.content, LongRecording) is in_pieces
    assert "the data file is truncated: 1000 of 1280 samples are there" in findings(record)
    assert re.search("7 bytes after the last whole row|breaks off", findings(record))
    assert record.summary()["seconds"] == pytest.approx(1000 / 3200)
    assert len(record.windows()) == 2
    if kind == "cff":
        assert "has 16007 bytes of the 20480 that it states" in findings(record)


def test_the_package_fills_with_zeros_what_we_leave_out(files, tmp_path) -> None:
    path = files.written(tmp_path, files.config("BINARY"), files.binary()[: 1000 * 16])
    theirs = comtrade.Comtrade(ignore_warnings=True)
    theirs.load(str(path))
    assert np.count_nonzero(np.asarray(theirs.analog[1])[1000:]) == 0
    assert len(theirs.analog[1]) == 1280
    assert xl.read_record(path).waveforms.samples.shape[0] == 1000


def test_a_wrong_number_of_channels(files, tmp_path) -> None:
    more = files.config("BINARY").replace("4,3A", "5,4A").replace("1,Trip", f"4,Uc{files.TAIL}1,Trip")
    with pytest.raises(InputError, match="does the number of channels in the configuration fit the data"):
        xl.read_record(files.written(tmp_path, more, files.binary()))
    short = files.ascii_rows().replace(b",20,0\r\n", b",20\r\n", 3)
    with pytest.raises(InputError, match=r"row 1 of the data of .* is of 5 values; valid: 6"):
        xl.read_record(files.written(tmp_path, files.config("ASCII"), short))


@pytest.mark.parametrize("kind", ["ASCII", "BINARY"])
def test_a_rate_that_the_time_stamps_contradict(kind, files, tmp_path) -> None:
    path = files.written(tmp_path, files.config(kind, rate=1_600), files.DATA[kind]())
    with pytest.raises(InputError, match=r"rate in r\.cfg is 1600 samples per second; valid: 3200"):
        xl.read_record(path)
    (tmp_path / "m.toml").write_text("rate = 1600\n", encoding="utf-8")
    with pytest.raises(InputError, match="rate is 1600 samples per second; valid: 3200"):
        xl.read_record(table(tmp_path, {"Ua": VOLTS}), tmp_path / "m.toml")


def test_a_configuration_in_another_encoding(files, tmp_path) -> None:
    text = files.config("BINARY").replace("SITE", "Straße")
    record = xl.read_record(files.written(tmp_path, text.encode("cp1252"), files.binary()))
    assert "r.cfg is no UTF-8 text; read as Windows-1252" in findings(record)
    assert len(record.windows()) == 4
    with pytest.raises(InputError, match="NUL characters"):
        xl.read_record(files.written(tmp_path, text.encode("utf-16"), files.binary()))
    path = table(tmp_path, {"Straße": 0.0, "Ua (V)": VOLTS})
    path.write_bytes(path.read_text(encoding="utf-8").encode("cp1252"))
    assert "read as Windows-1252" in findings(xl.read_record(path))


@pytest.mark.parametrize("ratio", ["-10,1", "10,-1", "10,0"])
def test_ratios_that_are_none(ratio, files, tmp_path) -> None:
    named = re.escape(f"ratio of I L1 in r.cfg is {ratio.replace(',', '/')}")
    with pytest.raises(InputError, match=named + "; valid: two numbers above 0"):
        xl.read_record(files.written(tmp_path, files.config("BINARY", ratio=ratio), files.binary()))
    (tmp_path / "m.toml").write_text(
        '[channels."I L1"]\nquantity = "current"\nphase = "a"\nratio = -20\n', encoding="utf-8"
    )
    path = files.written(tmp_path, files.config("BINARY"), files.binary())
    with pytest.raises(InputError, match=r"ratio of .*I L1.* is -20"):
        xl.read_record(path, tmp_path / "m.toml")


@pytest.mark.parametrize("suffix", ["csv", "parquet"])
def test_runs_of_missing_values(suffix, tmp_path) -> None:
    """0.25 s of one channel lack: two of its windows, none of the other's; all values of a third."""
    amps = AMPS.copy()
    amps[int(0.5 * RATE) : int(0.75 * RATE)] = np.nan
    frame = {"Ua (V)": VOLTS, "Ia (A)": amps, "Ib (A)": np.full(T.size, np.nan)}
    path = tmp_path / f"w.{suffix}"
    if suffix == "csv":
        table(tmp_path, frame)
    else:
        pd.DataFrame({"time (s)": T, **frame}).to_parquet(path)
    record = xl.read_record(path)
    wide = record.windows().pivot_table(
        index="start s", columns="channel", values="fundamental", dropna=False
    )
    assert np.isfinite(wide["Ua (V)"]).all()
    assert wide["Ua (V)"].to_numpy() == pytest.approx(230.0, rel=1e-6)
    lacking = np.isnan(wide["Ia (A)"]).to_numpy()
    assert lacking.tolist() == [False, False, True, True, False, False]
    assert wide["Ia (A)"].to_numpy()[~lacking] == pytest.approx(10.0, rel=1e-6)
    assert "Ia (A): 800 samples are missing" in findings(record)
    assert "Ib (A)" in findings(record)


def test_times_of_a_waveform_that_repeat_or_go_back(tmp_path) -> None:
    for change in (lambda t: np.r_[t[:50], t[49], t[51:]], lambda t: np.r_[t[:50], t[20], t[51:]]):
        frame = pd.DataFrame({"time (s)": change(T), "Ua": VOLTS})
        frame.to_csv(tmp_path / "w.csv", index=False)
        with pytest.raises(InputError, match=r"w\.csv, row 52: the time"):
            xl.read_record(tmp_path / "w.csv")


def logged(folder: Path, time: pd.Index, fifth: np.ndarray) -> Path:
    frame = pd.DataFrame({"time": time, "Ia h5 (A)": fifth, "Ia h7 (A)": 0.1})
    frame.to_csv(folder / "log.csv", index=False)
    return folder / "log.csv"


def test_a_log_with_repeated_and_unsorted_times(tmp_path) -> None:
    time = pd.date_range("2026-03-02", periods=30, freq="10min").strftime("%Y-%m-%d %H:%M:%S")
    order = [*range(10, 30), *range(10), 5, 6]
    record = xl.read_record(logged(tmp_path, time[order], np.arange(30.0)[order]))
    assert record.aggregate("10 min")["h5"].tolist() == np.arange(30.0).tolist()
    assert "2026-03-02T00:00:00 comes after a later time; the rows were sorted" in findings(record)
    assert "a repeated row; 2 such were left out" in findings(record)
    with pytest.raises(InputError, match=r"row 32: the time .* is also that of row 7, with other values"):
        xl.read_record(logged(tmp_path, time[[*range(30), 5]], np.arange(31.0)))


def test_a_log_over_the_end_of_daylight_saving(tmp_path) -> None:
    """25 October 2026 in Vienna has 25 hours: 150 intervals, of which six bear times of six others."""
    zone = pd.date_range("2026-10-25", periods=150, freq="10min", tz="Europe/Vienna")
    path = logged(tmp_path, zone.strftime("%Y-%m-%d %H:%M:%S"), np.arange(150.0))
    with pytest.raises(InputError, match="set back for daylight saving, state time_zone in the map"):
        xl.read_record(path)
    (tmp_path / "m.toml").write_text('time_zone = "Europe/Vienna"\n', encoding="utf-8")
    found = xl.read_record(path, tmp_path / "m.toml").aggregate("10 min")
    assert found["time"].iloc[0] == pd.Timestamp("2026-10-24T22:00:00")
    assert set(found["time"].diff().iloc[1:]) == {pd.Timedelta("10min")}


def test_orders_beyond_the_nyquist_frequency(tmp_path) -> None:
    """1600 samples per second hold orders up to 14; a verdict to order 50 says so and is none."""
    t = np.arange(1_600 * 4) / 1_600
    waves = {f"I{p} (A)": 14.0 * np.cos(2 * np.pi * (50 * t - k / 3)) for k, p in enumerate("abc")}
    pd.DataFrame({"time (s)": t, **waves}).to_csv(tmp_path / "w.csv", index=False)
    record = xl.read_record(tmp_path / "w.csv")
    spectrum = record.spectrum()
    assert spectrum["order"].max() == 14
    judged = record.judge_current(demand_amps=10.0, isc_il=30.0, kv=0.4)
    assert judged.word == "NO VERDICT"
    assert re.search("order", judged.reason)
