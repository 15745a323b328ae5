"""A record beside a study, and a study with what a record says put back into it.

The record is made of the engine's phasors for a supply and a capacitor that the study does not know;
tests/validation/test_ngspice_fit.py holds the fit against another simulator.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner

import xlcalc as xl
from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.face.beside import beside
from xlcalc.measurement.agreement import agreement, band
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData

SITE = {
    "utility kv": 12.47,
    "utility mva": 120.0,
    "transformer kva": 1_000.0,
    "transformer z pct": 5.75,
    "main bus volts": 480.0,
}
DRIVE = {"Tag": "P1", "Rating": 75.0, "Unit": "hp", "Bus": "main", "Pulses": 6, "Line reactor (%)": 3.0}
LEVEL, CAPACITANCE, LOAD = 12.0, 3.0, 70.0
pytestmark = pytest.mark.filterwarnings("ignore:Print area cannot be set")


@pytest.fixture(scope="module")
def study(tmp_path_factory):
    """A workbook with one drive, not calculated."""
    path = tmp_path_factory.mktemp("study") / "study.xlsx"
    data = StudyData(study={"title": "Pumps"}, site=SITE, settings={}, drives=(DRIVE,))
    fill_template(resources.template("drive_study"), data, path)
    return path


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """0.6 s of the drive at 70 % on 12 MVA with 1.2 % of a 5th, at 59.95 Hz."""
    drive = xl.Drive("P1", hp=75, pulses=6, line_reactor_pct=3, load_pct=LOAD)
    supply = xl.Supply(kv=0.48, mva=LEVEL, xr=6.2, background={5: (1.2, 40.0)})
    state = xl.solve(drive, supply, {"dc capacitance pu": CAPACITANCE}).state
    t = np.arange(6_000) / 10_000
    turning = np.exp(2j * np.pi * 59.95 * np.outer(np.arange(1, 51), t))
    amps = drive.rated_watts / 480.0
    frame = {}
    for letter, phases, base in (("U", state.terminal_voltage, 480.0), ("I", state.line_current, amps)):
        for k, phase in enumerate("abc"):
            frame[f"{letter}{phase}"] = np.sqrt(2) * base * np.real(phases[k].phasors @ turning)
    path = tmp_path_factory.mktemp("record") / "p1.csv"
    pd.DataFrame({"time (s)": t, **frame}).to_csv(path, index=False)
    return path


def test_fit_goes_back_into_the_study_and_then_agrees(study, recorded, tmp_path):
    book, proof = tmp_path / "fitted.xlsx", tmp_path / "proof.xlsx"
    asked = ["fit", str(recorded), "--study", str(study), "--drive", "p1", "-o", str(book)]
    done = CliRunner().invoke(app, [*asked, "--free", "mva,background,load_pct,dc_capacitance_pu"])
    assert done.exit_code == 0, done.output
    assert "background 5th pct" in done.output
    assert "background 11th pct, which was left out" in done.output
    given = xl.read_plant(book).site.settings
    assert given["background 5th pct"] == pytest.approx(1.2, rel=0.01)
    assert given["dc capacitance pu"] == pytest.approx(CAPACITANCE, rel=0.01)
    asked = ["measure", str(recorded), "--study", str(book), "--drive", "P1", "-o", str(proof)]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 0, done.output
    assert "current: AGREES" in done.output
    assert "with 70 % of its loads" in done.output
    found = openpyxl.load_workbook(proof)
    assert {"difference", "inputs"} <= set(found.sheetnames)
    headings = [cell.value for cell in found["difference"][1]]
    assert headings[:5] == ["quantity", "phase", "order", "measured", "predicted"]


def test_drives_recorded_together(study, recorded, tmp_path):
    """Two of half the rating and the same percent draw together what the one draws."""
    book = tmp_path / "two.xlsx"
    half = {**DRIVE, next(name for name in DRIVE if name.startswith("Rating")): 37.5}
    rows = tuple({**half, next(iter(DRIVE)): tag} for tag in ("P1", "P2"))
    fill_template(study, StudyData(study={}, site=SITE, settings={}, drives=rows), book)
    asked = ["fit", str(recorded), "--study", str(book), "--drive", "p1", "--drive", "P2"]
    done = CliRunner().invoke(app, asked)
    assert done.exit_code == 0, done.output
    found = {
        line.split()[0]: float(line.split()[1]) for line in done.output.splitlines() if "mva" in line[:3]
    }
    assert found["mva"] == pytest.approx(LEVEL, rel=0.02)
    with_output = CliRunner().invoke(app, [*asked, "-o", str(tmp_path / "o.xlsx")])
    assert "typed where it belongs" in str(with_output.exception)


def test_another_drive_does_not_agree(study, recorded, tmp_path):
    """The same record against a reactor of 8 % instead of 3 %, and against the utility side."""
    record = xl.read_record(recorded)
    other = tmp_path / "other.xlsx"
    drive = {**DRIVE, "Line reactor (%)": 8.0}
    fill_template(study, StudyData(study={}, site=SITE, settings={}, drives=(drive,)), other)
    found = beside(record, other, drive="P1")
    assert not found.current.agrees
    assert "DOES NOT AGREE" in found.sentences[0]
    assert found.current.outside[0].order in (5, 7)
    with pytest.raises(InputError, match="another side of a transformer, or are loads missing"):
        beside(record, study)
    with pytest.raises(InputError, match="drive is P7; valid: one of P1"):
        beside(record, study, drive="P7")
    with pytest.raises(InputError, match="case is night; valid: none"):
        beside(record, study, drive="P1", case="night")


def test_band_and_sentence_by_hand():
    """10 A of a fifth, 9 to 12 possible, 5 % accuracy: 12.5 A read may be 11.9 A, 13 A may not."""
    expected = np.array([100.0, 0.0, 0.0, 0.0, 10.0])
    varied = {"reactor": tuple(expected + np.array([0, 0, 0, 0, d]) for d in (-1.0, 2.0))}
    predicted = band(expected, varied)
    assert predicted.parts == {"reactor": (1.0, 2.0)}

    def held(amps):
        measured = {"a": np.array([100.0, 0.1, 0.1, 0.1, 1.0]), "b": np.array([100.0, 0.0, 0.0, 0.0, amps])}
        return agreement(measured, predicted, what="current", unit="A", fundamental=100.0)

    assert held(12.5).agrees is True
    assert "AGREES, all 1 orders above 0.5 %" in held(12.5).sentence
    high = held(13.0)
    assert high.agrees is False
    assert high.outside[0].outside == pytest.approx(13.0 * 0.95 - 12.0)
    assert "order 5 of phase b: 13 A measured, 10 predicted, 9 to 12 possible, 0.35 A above" in high.sentence
    assert held(8.0).outside[0].outside == pytest.approx(-(9.0 - 8.0 * 1.05))
    small = replace(predicted, expected=np.zeros(5), low=np.zeros(5), high=np.zeros(5))
    quiet = agreement({"a": np.zeros(5)}, small, what="current", unit="A", fundamental=100.0)
    assert quiet.agrees is None
    assert "NOT COMPARED" in quiet.sentence
