"""A record from Python and by the command: what both give, by hand and by the counts of a week."""

from __future__ import annotations

import numpy as np
import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner

import xlcalc as xl
from xlcalc.cli.app import app
from xlcalc.core.errors import InputError

RATE, HZ, COUNT = 3_200, 49.9, 3_200 * 13


@pytest.fixture(scope="module")
def waveforms(tmp_path_factory):
    """13 s of three phases: 400 V line to line with 2 % of order 5, 100 A with 20 A of it."""
    t = np.arange(COUNT) / RATE
    frame = {"time (s)": t}
    for name, rms, fifth, lag in (("U", 400 / np.sqrt(3), 0.02, 0.0), ("I", 100.0, 0.2, np.radians(30))):
        for k, phase in enumerate("abc"):
            angle = 2 * np.pi * (HZ * t - k / 3)
            wave = np.cos(angle - lag) + fifth * np.cos(5 * angle)
            frame[f"{name}{phase}"] = np.sqrt(2) * rms * wave
    path = tmp_path_factory.mktemp("record") / "site.csv"
    pd.DataFrame(frame).to_csv(path, index=False, float_format="%.9f")
    return path


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """A week of 10-minute values: 3 % of order 5 and nothing else, in percent of the demand current."""
    time = pd.date_range("2026-03-02", periods=1_008, freq="10min")
    orders = {f"I{p} h{h} (%)": 3.0 if h == 5 else 0.0 for p in "abc" for h in range(2, 51)}
    path = tmp_path_factory.mktemp("record") / "log.csv"
    pd.DataFrame({"time": time, **orders}).to_csv(path, index=False)
    return path


def test_tables_of_waveforms(waveforms):
    record = xl.read_record(waveforms, nominal_volts=400.0)
    windows = record.windows()
    assert len(windows) == 6 * int(13 * HZ / 10)
    assert windows["hz"].to_numpy() == pytest.approx(HZ, rel=1e-7)
    assert not windows["flagged"].any()
    assert windows[windows["channel"] == "Ia"]["thd %"].to_numpy() == pytest.approx(20.0, rel=1e-6)
    spectrum = record.spectrum().set_index(["channel", "order"])
    assert spectrum.loc[("Ia", 5), "rms"] == pytest.approx(20.0, rel=1e-6)
    assert spectrum.loc[("Ub", 5), "% of fundamental"] == pytest.approx(2.0, rel=1e-6)
    three = record.aggregate("3s")
    assert len(three) == 6 * 5
    whole = three[(three["channel"] == "Ic") & (three["coverage"] == 1.0)]
    assert whole["h5"].to_numpy() == pytest.approx([20.0] * 4, rel=1e-6)
    assert "13 s of Ua" in repr(record)
    with pytest.raises(InputError, match="length is 1h; valid: one of 3 s, 10 min"):
        record.aggregate("1h")


def test_seconds_are_no_week(waveforms):
    record = xl.read_record(waveforms)
    judgement = record.judge_current(demand_amps=100.0, isc_il=100, kv=0.4)
    assert judgement.word == "NO VERDICT"
    assert "4 of 28800 values known" in judgement.reason
    assert record.judge_en50160().word == "NO VERDICT"
    assert record.judge_voltage(kv=0.4).word == "NO VERDICT"


def test_a_log(log):
    """3 % keep 4 % in 95 % of the week; that of the day needs 3 s values, which it lacks."""
    record = xl.read_record(log)
    judgement = record.judge_current(demand_amps=None, isc_il=15, kv=13.8)
    assert judgement.word == "NO VERDICT"
    assert all("3 s" in gap for gap in judgement.gaps)
    week = [verdict for verdict in judgement.verdicts if "week" in verdict.quantity]
    assert {verdict.word for verdict in week} == {"PASS"}
    assert len(record.aggregate("10 min")) == 3 * 1_008
    with pytest.raises(InputError, match="without samples"):
        record.windows()
    with pytest.raises(InputError, match="base"):
        record.judge_current(demand_amps=100.0, isc_il=15, kv=13.8)


def test_verdicts_as_tables(waveforms, log):
    """3 % of order 5 keep the 4 % of a week; seconds are no week; what a standard needs is asked for."""
    table = xl.verdict_by_percentiles(xl.read_record(log), isc_il=15, kv=13.8)
    week = table[table["quantity"].str.contains("week")]
    assert set(week["verdict"]) == {"PASS"}
    assert week.loc[week["order"] == 5, "value"].tolist() == pytest.approx([3.0] * 6)
    assert table.attrs["verdict"] == "NO VERDICT"
    record = xl.read_record(waveforms)
    for standard in ("EN 50160", "IEC 61000-2-4"):
        found = xl.verdict_by_percentiles(record, standard)
        assert found.attrs["verdict"] == "NO VERDICT"
        assert found["source"].str.startswith(standard).all()
    assert record.judge_iec61000_2_4("class 1").word == "NO VERDICT"
    with pytest.raises(InputError, match="isc_il is missing"):
        xl.verdict_by_percentiles(record, kv=0.4)
    with pytest.raises(InputError, match="standard is IEC 1; valid: one of IEEE 519-2022"):
        xl.verdict_by_percentiles(record, "IEC 1")


def test_a_part_of_a_record_never_passes(log):
    """Eight days in sheets that hold seven: a line without a verdict, and a sentence."""
    from xlcalc.cli.proof_book import BEYOND, LONGER, proof_data
    from xlcalc.face.judged import Asked

    frame = pd.read_csv(log)
    time = pd.date_range("2026-03-02", periods=8 * 144, freq="10min")
    longer = pd.concat([frame, frame.head(144)], ignore_index=True).assign(time=time)
    longer.to_csv(log.parent / "longer.csv", index=False)
    for name, wanted in (("longer.csv", True), (log.name, False)):
        record = xl.read_record(log.parent / name)
        asked = Asked(isc_il=15, kv=13.8)
        data = proof_data(record, None, title="", facts={}, sentences=(), asked=asked)
        assert (BEYOND in data.days) is wanted
        assert (LONGER in data.sentences) is wanted
        assert data.hours.size == 1_008


@pytest.mark.parametrize("where", [["--workers", "1"], ["--dask", "local", "--workers", "2"]])
def test_several_records_give_a_row_each(where, waveforms, log, tmp_path):
    """A file that is none has its reason and costs no other its row."""
    broken = tmp_path / "broken.csv"
    broken.write_text("no table\n", encoding="utf-8")
    files = [str(waveforms), str(broken), str(log)]
    done = CliRunner().invoke(
        app, ["measure", *files, "-o", str(tmp_path / "all.csv"), "--en50160", "LV", *where]
    )
    assert done.exit_code == 0, done.output
    assert "3 records, 1 that cannot be used" in done.output
    table = pd.read_csv(tmp_path / "all.csv").set_index("file")
    first = table.loc[str(waveforms)]
    assert first["Ia mean A"] == pytest.approx(100.0, rel=1e-6)
    assert first["Ia largest thd %"] == pytest.approx(20.0, rel=1e-6)
    assert first["voltages, EN 50160 LV"] == "NO VERDICT"
    assert "without rows of numbers" in table.loc[str(broken), "problem"]
    assert table.loc[str(log), "kind"] == "log of intervals"
    with_study = CliRunner().invoke(app, ["measure", *files, "-o", str(tmp_path / "b.csv"), "--study", "x"])
    assert isinstance(with_study.exception, InputError)


def test_the_command(waveforms, log, tmp_path):
    book = tmp_path / "proof.xlsx"
    judged = ["--kv", "0.4", "--demand-amps", "100", "--isc-il", "100", "--en50160", "LV"]
    done = CliRunner().invoke(app, ["measure", str(waveforms), "-o", str(book), *judged])
    assert done.exit_code == 0, done.output
    assert "currents, IEEE 519-2022: NO VERDICT" in done.output
    assert "voltages, EN 50160 LV: NO VERDICT" in done.output
    assert "note: no start time" in done.output
    sheets = openpyxl.load_workbook(book, read_only=True)
    assert {"Proof", "Trend", "Values", "summary", "findings", "verdicts", "spectrum"} <= set(
        sheets.sheetnames
    )
    items = {row[0].value: row[1].value for row in sheets["summary"].iter_rows(min_row=2)}
    assert items["window"] == "10 cycles, IEC 61000-4-7"
    assert float(items["mean frequency, Hz"]) == pytest.approx(HZ, rel=1e-6)
    assert CliRunner().invoke(app, ["measure", str(log), "-o", str(tmp_path / "l.csv")]).exit_code == 0
    week = tmp_path / "week.xlsx"
    done = CliRunner().invoke(app, ["measure", str(log), "-o", str(week), "--isc-il", "15", "--kv", "13.8"])
    assert done.exit_code == 0, done.output
    values = openpyxl.load_workbook(week, data_only=True)
    table = {row[0].value: [cell.value for cell in row] for row in values["Percentiles"]["A6:H55"]}
    assert table[5][1:4] == [3.0, 4.0, 1.0]
    assert table[5][4:] == [3.0, 6.0, 3.0, "PASS"]
    assert {row[-1] for row in table.values()} == {"PASS"}
    words = {row[0].value: row[1].value for row in values["Proof"].iter_rows(max_col=2)}
    assert words["10-minute values of a week"] == "PASS"
    assert words["Limits met?"] == words["3 s values of days"] == "NO VERDICT"
    lone = CliRunner().invoke(app, ["measure", str(log), "-o", str(book), "--isc-il", "15"])
    assert isinstance(lone.exception, InputError)
