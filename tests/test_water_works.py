"""An invented water works, from the list of its drives to pages on paper, through every command."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook

from xlcalc.cli.app import app

SITE = """
[study]
title = "Water works (invented)"
client = "Client (invented)"
"document number" = "WW-17"

[site]
"utility kv" = 13.8
"utility mva" = 250
"transformer kva" = 2000
"transformer z pct" = 5.75
"main bus volts" = 480
"linear load kw" = 300
"""
SWEEP = """[sweep]
samples = 2
[site]
"utility mva" = { low = 220, high = 280 }
"""
HEADINGS = ("Tag", "Service", "Qty", "Motor rating", "Pulses", "Line reactor %", "DC choke %", "Efficiency")
DRIVES = (
    *((f"P-10{k}", "Intake pump", 1, "200 HP", "6-pulse", 3, None) for k in (1, 2, 3)),
    ("P-201", "Förderpumpe", 1, "250 HP", "18-pulse", None, None),
    *((f"P-20{k}", "High-lift pump", 1, "200 HP", "12-pulse", None, None) for k in (2, 3)),
    *((f"P-30{k}", "Booster pump", 1, "125 HP", "6-pulse", None, None) for k in (1, 2)),
    *((f"B-40{k}", "Aeration blower", 1, "150 HP", "6-pulse", 5, None) for k in (1, 2)),
    ("B-403", "Backwash blower", 1, "60 HP", "6-pulse", None, None),
    *((f"DP-50{k}", "Dosing pump", 1, "5,5 kW", "6-pulse", None, None) for k in (1, 2, 3)),
    ("DP-504", "Dosing pump", 1, "7,5 kW", "6-pulse", None, None),
    *((f"FL-60{k}", "Flocculator", 1, "4 kW", "6-pulse", None, None) for k in range(1, 7)),
    ("SC-701", "Scraper", 3, "2,2 kW", "6-pulse", None, None),
    *((f"SP-80{k}", "Sludge pump", 1, "30 kW", "6-pulse", None, 4) for k in (1, 2)),
    ("SP-803", "Sludge pump", 1, "22 kW", "6-pulse", None, 4),
    ("CV-901", "Screw conveyor", 1, "11 kW", "6-pulse", None, None),
    ("MX-951", "Mixer", 1, "15 kW", "6-pulse", None, None),
    ("HV-971", "Fan", 1, "18,5 kW", "6-pulse", 3, None),
)
TAGS = [drive[0] for drive in DRIVES]
TOOLS = shutil.which("soffice") and shutil.which("pdftotext")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One list as cp1252 with semicolons and decimal commas, and as a workbook with titles and a total."""
    made = tmp_path_factory.mktemp("works")
    lines = [HEADINGS, *((*drive, "94%") for drive in DRIVES)]
    text = "\r\n".join(";".join("" if cell is None else str(cell) for cell in line) for line in lines)
    (made / "list.csv").write_bytes(text.encode("cp1252"))
    book = Workbook()
    sheet = book.active
    for title in ("Water works, motor list", "issued for tender"):
        sheet.append([title])
    sheet.append(HEADINGS)
    for number, drive in enumerate(DRIVES):
        sheet.append([*drive, 0.94])
        sheet.cell(sheet.max_row, len(HEADINGS)).number_format = "0%"
        if number == 9:
            sheet.append([])
    sheet.append(["TOTAL", None, sum(drive[2] for drive in DRIVES)])
    book.save(made / "list.xlsx")
    (made / "site.toml").write_text(SITE)
    (made / "sweep.toml").write_text(SWEEP)
    return made


def run(*words: str | Path) -> str:
    done = CliRunner().invoke(app, [str(word) for word in words])
    assert done.exit_code in (0, 1), f"{words}: {done.output} {done.exception}"
    return done.output


def test_both_lists_give_the_same_verdict(folder: Path) -> None:
    texts = [
        run("schedule", folder / name, "--site", folder / "site.toml", "-o", folder / f"{name}.csv.csv")
        for name in ("list.csv", "list.xlsx")
    ]
    verdicts = [[line for line in text.splitlines() if "Verdict" in line or "TDD" in line] for text in texts]
    assert verdicts[0] == verdicts[1]
    assert "28 rows, 28 solved" in texts[0]
    book = folder / "results.xlsx"
    run("schedule", folder / "list.csv", "--site", folder / "site.toml", "-o", book)
    first = load_workbook(book).worksheets[0]
    shown = [str(cell.value) for (cell,) in first.iter_rows(max_col=1) if cell.value]
    assert all(line in shown for line in texts[0].splitlines() if "Verdict" in line or "TDD" in line)
    assert len(first._charts) == 1
    assert "TOTAL" in texts[1]
    assert "Wrote" in run(
        "sweep",
        folder / "list.csv",
        "--site",
        folder / "site.toml",
        "--spec",
        folder / "sweep.toml",
        "-o",
        folder / "sweep.xlsx",
    )


@pytest.mark.skipif(not TOOLS, reason="LibreOffice or pdftotext is missing")
def test_the_list_becomes_pages_that_hold_every_tag(folder: Path) -> None:
    book, done, pages, pdf = (
        folder / name for name in ("study.xlsx", "done.xlsx", "pages.xlsx", "pages.pdf")
    )
    run("new", "drive_study", book, "--drives", folder / "list.xlsx", "--site", folder / "site.toml")
    run("recalc", book, "-o", done)
    pytest.importorskip("matplotlib")
    plots = folder / "plots"
    said = run("submittal", done, "-o", pages, "--pdf", pdf, "--plots", plots, "--as-stored")
    made = {path.name for path in plots.iterdir()}
    assert {"single-line.svg", "current.png", "contributions.svg", "waveform.png"} <= made
    assert all(path.read_bytes().startswith((b"\x89PNG", b"<?xml")) for path in plots.iterdir())
    values = load_workbook(done, data_only=True)
    assert str(values["Summary"]["A5"].value) == "FAIL"
    assert said.splitlines()[0] == f"FAIL: {values['Summary']['C5'].value}"
    text = subprocess.run(
        ["pdftotext", "-layout", str(pdf), "-"], capture_output=True, text=True, check=True
    ).stdout
    for wanted in (
        *TAGS,
        "Single-line diagram",
        "Client (invented)",
        "WW-17",
        "How to verify by measurement",
    ):
        assert wanted in text, wanted
    assert "memory" not in text
