"""COMTRADE records written as IEEE C37.111 lays them out (layout from memory), sound and broken."""

from __future__ import annotations

import struct

import numpy as np
import pytest

pytest.importorskip("comtrade")

from xlcalc.core.errors import InputError
from xlcalc.io.instruments import records
from xlcalc.io.instruments.records import read_recording

RATE, COUNT = 3_200, 1_280
T = np.arange(COUNT) / RATE
VOLTS = np.round(1000 * np.cos(2 * np.pi * 50 * T)).astype(int)
AMPS = np.round(500 * np.cos(2 * np.pi * 50 * T - 0.5) + 100 * np.cos(2 * np.pi * 250 * T)).astype(int)


def config(kind, year="1999", count=COUNT, rate=RATE, ratio="10,1", extra=""):
    first = "SITE,REC" + ("" if year == "1991" else f",{year}")
    date = "03/02/96" if year == "1991" else "02/03/2026"
    lines = [
        first,
        "4,3A,1D",
        "1,Ua,A,,V,0.5,1.0,0,-32767,32767,1,1,P",
        f"2,I L1,,,A,0.01,0,0,-32767,32767,{ratio},S",
        "3,Temperature,,,C,1,0,0,-32767,32767,1,1,P",
        "1,Trip,,,0",
        "50",
        "1",
        f"{rate},{count}",
        f"{date},10:00:00.000000",
        f"{date},10:00:00.100000",
        kind,
    ]
    if year != "1991":
        lines.append("1")
    if year == "2013":
        lines += ["+1,+1", "B,3"]
    return "\r\n".join(lines) + "\r\n" + extra


def binary(form="hhh", count=COUNT, numbers=None, values=int):
    rows = []
    for k in range(count):
        number = k + 1 if numbers is None else numbers[k]
        stamp = round(1e6 * (number - 1) / RATE)
        rows.append(
            struct.pack("<II" + form + "H", number, stamp, values(VOLTS[k]), values(AMPS[k]), values(20), 1)
        )
    return b"".join(rows)


def ascii_rows(count=COUNT, year="1999"):
    return "".join(
        f"{k + 1},{round(1e6 * k / RATE)},{VOLTS[k]},{AMPS[k]},20,0\r\n" for k in range(count)
    ).encode()


TAIL = ",C,,V,0.5,1.0,0,-32767,32767,1,1,P\r\n"
DATA = {
    "ASCII": ascii_rows,
    "BINARY": binary,
    "BINARY32": lambda: binary("iii"),
    "FLOAT32": lambda: binary("fff", values=float),
}


def written(folder, text, data, name="r"):
    (folder / f"{name}.cfg").write_bytes(text.encode() if isinstance(text, str) else text)
    (folder / f"{name}.dat").write_bytes(data)
    return folder / f"{name}.cfg"


def check(recording):
    assert [c.phase for c in recording.channels] == ["a", "a"]
    assert recording.rate == RATE
    np.testing.assert_allclose(recording.samples[:, 0], 0.5 * VOLTS + 1.0, rtol=1e-7)
    np.testing.assert_allclose(recording.samples[:, 1], 0.1 * AMPS, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("year", ["1999", "2013"])
@pytest.mark.parametrize("kind", DATA)
def test_every_kind(tmp_path, kind, year):
    recording = read_recording(written(tmp_path, config(kind, year), DATA[kind]()))
    check(recording)
    assert any("left out, as not recognised: Temperature" in note for note in recording.findings)
    hour = "09" if year == "2013" else "10"
    assert recording.start == np.datetime64(f"2026-03-02T{hour}:00:00")


@pytest.mark.parametrize("whole", [True, False])
def test_clocks_that_differ_by_a_little_are_told(tmp_path, monkeypatch, whole):
    """Time stamps of 3200 samples per second, a configuration with 400 millionths less."""
    if not whole:
        monkeypatch.setattr(records, "LONG_BYTES", 1)
    same = records.read_any(written(tmp_path, config("BINARY"), binary()))
    assert not any("millionths" in note for note in same.findings)
    slow = records.read_any(written(tmp_path, config("BINARY", rate=3198.72), binary()))
    (note,) = (finding for finding in slow.findings if "millionths" in finding)
    assert "the time stamps give 3200 samples per second, the configuration 3198.72" in note
    assert "off by 400 millionths" in note


def test_the_edition_of_1991_has_its_date_the_other_way(tmp_path):
    recording = read_recording(written(tmp_path, config("ASCII", "1991"), ascii_rows()))
    check(recording)
    assert recording.start == np.datetime64("1996-03-02T10:00:00")


@pytest.mark.parametrize("kind", DATA)
def test_one_file(tmp_path, kind):
    data = DATA[kind]()
    size = "" if kind == "ASCII" else f": {len(data)}"
    text = f"--- file type: CFG ---\r\n{config(kind, '2013')}--- file type: INF ---\r\n\r\n"
    text += f"--- file type: HDR ---\r\n\r\n--- file type: DAT {kind}{size} ---\r\n"
    path = tmp_path / "r.cff"
    path.write_bytes(text.encode() + data)
    check(read_recording(path))


def test_truncated_files_give_what_is_whole(tmp_path):
    """The package alone gives zeros for what is missing."""
    recording = read_recording(written(tmp_path, config("BINARY"), binary()[: 1000 * 16 + 7]))
    assert recording.samples.shape[0] == 1000
    assert "r.cfg: the data file is truncated: 1000 of 1280 samples are there" in recording.findings
    assert any("7 bytes after the last whole row" in note for note in recording.findings)
    recording = read_recording(written(tmp_path, config("ASCII"), ascii_rows()[:-9]))
    assert recording.samples.shape[0] == COUNT - 1
    assert any("breaks off" in note for note in recording.findings)
    longer = read_recording(written(tmp_path, config("BINARY", count=1000), binary()))
    assert longer.samples.shape[0] == 1000
    assert any("280 beyond those stated" in note for note in longer.findings)


def test_missing_samples_are_missing(tmp_path):
    numbers = np.concatenate([np.arange(1, 641), np.arange(651, COUNT + 11)])
    recording = read_recording(written(tmp_path, config("BINARY"), binary(numbers=numbers)))
    assert np.isnan(recording.samples[640:650]).all()
    assert any("10 sample numbers are missing, the first after 640" in note for note in recording.findings)
    marked = ascii_rows().replace(f",{VOLTS[5]},".encode(), b",99999,", 1)
    recording = read_recording(written(tmp_path, config("ASCII"), marked))
    assert any("samples of Ua are marked as missing" in note for note in recording.findings)


@pytest.mark.parametrize(
    ("text", "data", "message"),
    [
        (
            config("BINARY").replace("4,3A", "5,4A").replace("1,Trip", f"4,Uc{TAIL}1,Trip"),
            binary(),
            "fit the data",
        ),
        (
            config("ASCII"),
            ascii_rows().replace(b",20,0\r\n", b",20\r\n", 3),
            "row 1 of the data of r.cfg is of 5",
        ),
        (config("ASCII", rate=1_600), ascii_rows(), "rate in r.cfg is 1600 samples per second; valid: 3200"),
        (config("ASCII", ratio="-10,1"), ascii_rows(), "ratio of I L1 in r.cfg is -10/1"),
        (config("ASCII", ratio="10,0"), ascii_rows(), "ratio of I L1"),
        (config("BINARY16"), binary(), "data file type in r.cfg is BINARY16"),
        (
            config("ASCII").replace("4,3A", "5,3A"),
            ascii_rows(),
            "5 channels, of which 3 analogue and 1 status",
        ),
        (config("ASCII")[:60], ascii_rows(), "not readable"),
        ("", ascii_rows(), "not readable"),
        (config("ASCII"), b"", "without data"),
        (config("BINARY"), b"", "0 bytes"),
        (config("ASCII").encode("utf-16"), ascii_rows(), "NUL characters"),
    ],
    ids=range(12),
)
def test_broken_records_are_refused(tmp_path, text, data, message):
    with pytest.raises(InputError, match=message):
        read_recording(written(tmp_path, text, data))


def test_other_encoding_and_missing_data(tmp_path):
    text = config("ASCII").replace("SITE", "Stra\u00dfe").encode("cp1252")
    recording = read_recording(written(tmp_path, text, ascii_rows()))
    assert any("Windows-1252" in note for note in recording.findings)
    (tmp_path / "r.dat").unlink()
    with pytest.raises(InputError, match=r"r\.dat in the same folder"):
        read_recording(tmp_path / "r.cfg")


def test_a_map_says_what_the_channels_are(tmp_path):
    path = written(tmp_path, config("BINARY"), binary())
    (tmp_path / "m.toml").write_text(
        '[channels."I L1"]\nquantity = "current"\nphase = "b"\nratio = 20\nsign = -1\n', encoding="utf-8"
    )
    recording = read_recording(path, tmp_path / "m.toml")
    assert [(c.quantity, c.phase) for c in recording.channels] == [("current", "b")]
    np.testing.assert_allclose(recording.samples[:, 0], -0.2 * AMPS, atol=1e-9)
    (tmp_path / "m.toml").write_text(
        '[channels."I L9"]\nquantity = "current"\nphase = "b"\n', encoding="utf-8"
    )
    with pytest.raises(InputError, match=r"not in r\.cfg"):
        read_recording(path, tmp_path / "m.toml")


def test_a_second_reader_reads_the_same(tmp_path):
    """comtraderecord, another author's reader, on a binary record; skipped where it is not installed."""
    other = pytest.importorskip("comtraderecord.pyComtrade")
    (tmp_path / "r.cfg").write_text(config("BINARY"), encoding="utf-8", newline="")
    (tmp_path / "r.dat").write_bytes(binary())
    mine = read_recording(tmp_path / "r.cfg")
    theirs = other.ComtradeFile(str(tmp_path / "r.cfg"))
    volts, amps = (np.asarray(theirs.getAnalogData(name), float) for name in ("Ua", "I L1"))
    assert mine.samples[:, 0] == pytest.approx(volts, rel=1e-6)
    assert mine.samples[:, 1] == pytest.approx(10.0 * amps, rel=1e-6)
