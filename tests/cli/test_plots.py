"""Pictures that the commands write: which there are, that they are pictures, and what is left alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result

from xlcalc.cli.app import app
from xlcalc.core import resources
from xlcalc.core.errors import InputError

pytest.importorskip("matplotlib")
DEMO = resources.folder("demo")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words])


def names(folder: Path) -> set[str]:
    for path in folder.iterdir():
        start = {".svg": b"<?xml", ".png": b"\x89PNG"}[path.suffix]
        assert path.read_bytes().startswith(start)
    return {path.stem for path in folder.iterdir()}


def test_pictures_of_a_schedule_and_a_folder_that_is_not_empty(tmp_path: Path) -> None:
    plots = tmp_path / "plots"
    words = ("schedule", DEMO / "starter_drives.csv", "--site", DEMO / "starter_site.toml", "--plots", plots)
    done = run(*words, "-o", tmp_path / "out.csv")
    assert "pictures to" in done.output, done.output
    found = names(plots)
    assert {"single-line", "drive-01", "current-utility", "voltage-utility", "contributions-utility"} <= found
    again = run(*words, "-o", tmp_path / "other.csv")
    assert isinstance(again.exception, InputError)
    assert "not empty" in str(again.exception)
    assert not (tmp_path / "other.csv").exists()


def test_pictures_of_a_record(tmp_path: Path) -> None:
    seconds = np.arange(0.0, 0.25, 1e-4)
    angle = 2.0 * np.pi * 50.0 * seconds
    amps = 100.0 * np.cos(angle) + 20.0 * np.cos(5.0 * angle)
    lines = ["time,Ia (A)", *(f"{t:.4f},{a:.6g}" for t, a in zip(seconds, amps, strict=True))]
    (tmp_path / "record.csv").write_text("\n".join(lines))
    plots = tmp_path / "plots"
    done = run("measure", tmp_path / "record.csv", "-o", tmp_path / "out.csv", "--plots", plots)
    assert done.exit_code == 0, done.output
    assert names(plots) == {"waveform-current", "spectrum-ia-a"}
