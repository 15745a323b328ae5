"""A record read in pieces gives what the whole one gives, gaps and a tick of 10 minutes included."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import xlcalc as xl
from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.io.instruments import records
from xlcalc.measurement.pieces import LongRecording
from xlcalc.measurement.recording import Channel, Recording
from xlcalc.measurement.reduction import reduced

RATE, SECONDS = 3_200, 13
START = np.datetime64("2026-03-02T00:09:53.4", "ns")
CHANNELS = (Channel("Ua", "voltage", "a"), Channel("Ia", "current", "a"))


def waves() -> np.ndarray:
    """230 V at 50.02 Hz with a dip, and 20 A with a fifth, of which half a second lacks."""
    t = np.arange(RATE * SECONDS) / RATE
    angle = 2.0 * np.pi * 50.02 * t
    volts = 325.0 * np.cos(angle) * np.where((t > 9.0) & (t < 9.1), 0.7, 1.0)
    amps = 28.0 * np.cos(angle - 0.5) + 5.0 * np.cos(5.0 * angle)
    amps[4 * RATE : 4 * RATE + RATE // 2] = np.nan
    return np.column_stack([volts, amps])


def test_the_same_as_the_whole() -> None:
    samples, block = waves(), 7_777
    pieces = LongRecording(
        pieces=lambda: (samples[k : k + block] for k in range(0, len(samples), block)),
        count=len(samples),
        rate=float(RATE),
        channels=CHANNELS,
        start=START,
    )
    whole = Recording(samples=samples, rate=float(RATE), channels=CHANNELS, start=START)
    mine, theirs = (reduced(one, nominal_volts=398.0) for one in (pieces, whole))
    assert mine.flagged.any()
    assert mine.ten.start_s.size == 2
    assert mine.flagged.tolist() == theirs.flagged.tolist()
    for name in ("start_s", "hz", "fundamental", "thd_pct", "crest_factor", "rms"):
        assert getattr(mine, name) == pytest.approx(getattr(theirs, name), rel=1e-6, nan_ok=True), name
    for length in ("3 s", "10 min"):
        one, other = mine.intervals(length), theirs.intervals(length)
        assert one.values == pytest.approx(other.values, rel=1e-6, abs=1e-9, nan_ok=True)
        assert one.coverage == pytest.approx(other.coverage)
    short = LongRecording(
        pieces=lambda: iter([samples[:100]]), count=len(samples), rate=float(RATE), channels=CHANNELS
    )
    with pytest.raises(InputError, match=f"of 100 samples; valid: the {len(samples)} that it states"):
        reduced(short)


def test_an_interval_without_a_voltage_neither_ends_nor_hides_the_others() -> None:
    """Dead for 14 s, of which the first 8 are another interval; then ten seconds of 50 Hz."""
    t = np.arange(10 * RATE) / RATE
    alive = np.column_stack([325.0 * np.cos(2.0 * np.pi * 50.0 * t), 28.0 * np.cos(2.0 * np.pi * 50.0 * t)])
    dead = np.zeros((14 * RATE, 2))
    start = np.datetime64("2026-03-02T00:09:52", "ns")
    known = {"rate": float(RATE), "channels": CHANNELS, "start": start}
    both = LongRecording(pieces=lambda: iter((dead, alive)), count=24 * RATE, **known)
    found = reduced(both)
    assert found.start_s[0] == pytest.approx(8.0)
    assert found.fundamental[-20:] == pytest.approx(np.sqrt(0.5) * np.array([[325.0, 28.0]] * 20), rel=1e-6)
    assert found.three.values[0, :, 0] == pytest.approx([0.0, 0.0])
    with pytest.raises(NoSolutionError, match="no channel has a frequency"):
        reduced(LongRecording(pieces=lambda: iter((dead,)), count=14 * RATE, **known))


CONFIG = """Site,Recorder,1999
2,2A,0D
1,Ua,a,,V,0.02,0.0,0,-32767,32767,1,1,P
2,Ia,a,,A,0.002,0.0,0,-32767,32767,1,1,P
50
1
{rate},{count}
02/03/2026,00:09:53.400000
02/03/2026,00:09:53.400000
BINARY
1
"""


def write_comtrade(folder, samples) -> None:
    layout = np.dtype([("number", "<u4"), ("stamp", "<u4"), ("values", "<i2", (2,))])
    rows = np.zeros(len(samples), layout)
    rows["number"] = np.arange(1, len(samples) + 1)
    rows["stamp"] = np.round(np.arange(len(samples)) / RATE * 1e6)
    scaled = np.where(np.isnan(samples), -32_768, np.round(samples / [0.02, 0.002]))
    rows["values"] = scaled
    kept = np.delete(rows, np.s_[5_000:5_100])
    (folder / "site.dat").write_bytes(kept.tobytes() + b"\x00\x01")
    config = CONFIG.format(rate=RATE, count=len(kept))
    (folder / "site.cfg").write_text(config, encoding="utf-8")


def write_parquet(folder, samples) -> None:
    t = np.arange(len(samples)) / RATE
    frame = pd.DataFrame({"time (s)": t, "Ua": samples[:, 0], "Ia (mA)": 1e3 * samples[:, 1]})
    frame.drop(index=range(5_000, 5_100)).to_parquet(folder / "site.parquet", index=False)


def write_text(folder, samples) -> None:
    t = np.arange(len(samples)) / RATE
    frame = pd.DataFrame({"time (s)": t, "Ua": samples[:, 0], "Ia (mA)": 1e3 * samples[:, 1]})
    kept = frame.drop(index=range(5_000, 5_100))
    text = kept.to_csv(index=False, sep=";", decimal=",", float_format="%.9g", lineterminator="\r\n")
    (folder / "site.csv").write_text("Recorder;7\r\n" + text, encoding="utf-8-sig", newline="")


def write_ascii(folder, samples) -> None:
    write_comtrade(folder, samples)
    text = (folder / "site.cfg").read_text(encoding="utf-8").replace("BINARY", "ASCII")
    (folder / "site.cfg").write_text(text, encoding="utf-8")
    layout = np.dtype([("number", "<u4"), ("stamp", "<u4"), ("values", "<i2", (2,))])
    rows = np.frombuffer((folder / "site.dat").read_bytes()[:-2], layout)
    cells = [[n, t, *(99_999 if v == -32_768 else v for v in values)] for n, t, values in rows.tolist()]
    lines = "".join(",".join(map(str, row)) + "\r\n" for row in cells)
    (folder / "site.dat").write_bytes(lines.encode() + b"\x1a")


def write_cff(folder, samples) -> None:
    write_comtrade(folder, samples)
    config = (folder / "site.cfg").read_bytes()
    data = (folder / "site.dat").read_bytes()
    head = b"--- file type: CFG ---\n" + config + b"--- file type: INF ---\n\n--- file type: DAT BINARY: "
    (folder / "site.cff").write_bytes(head + str(len(data)).encode() + b" ---\n" + data)


WRITERS = {
    "site.cfg": write_comtrade,
    "ascii, site.cfg": write_ascii,
    "site.cff": write_cff,
    "site.parquet": write_parquet,
    "site.csv": write_text,
}


@pytest.mark.parametrize("what", WRITERS)
def test_files_in_pieces_are_the_files_as_a_whole(what, tmp_path, monkeypatch) -> None:
    """100 rows left out, half a second marked as missing; whole files go through the other readers."""
    WRITERS[what](tmp_path, waves())
    name = what.split()[-1]
    whole = xl.read_record(tmp_path / name)
    monkeypatch.setattr(records, "LONG_BYTES", 1)
    monkeypatch.setattr(records, "LONG_TEXT", 1)
    monkeypatch.setattr("xlcalc.io.instruments.line_blocks.BLOCK_BYTES", 1 << 16)
    pieces = xl.read_record(tmp_path / name)
    assert isinstance(whole.content, Recording)
    assert isinstance(pieces.content, LongRecording)
    assert pieces.content.count == len(waves())
    assert pieces.waveforms.samples == pytest.approx(whole.waveforms.samples, rel=1e-9, nan_ok=True)
    assert pieces.windows()["fundamental"].to_numpy() == pytest.approx(
        whole.windows()["fundamental"].to_numpy(), rel=1e-6, nan_ok=True
    )
    assert any("100 sample" in finding for finding in pieces.findings)
    assert any("read in pieces" in finding for finding in pieces.findings)
    assert pieces.summary()["seconds"] == pytest.approx(SECONDS)


def test_a_rate_that_the_stamps_contradict(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr(records, "LONG_BYTES", 1)
    write_comtrade(tmp_path, waves())
    config = (tmp_path / "site.cfg").read_text(encoding="utf-8").replace(f"{RATE},", f"{RATE + 100},")
    (tmp_path / "site.cfg").write_text(config, encoding="utf-8")
    with pytest.raises(InputError, match=r"rate in site\.cfg is 3300 samples per second; valid: 3200"):
        xl.read_record(tmp_path / "site.cfg")
