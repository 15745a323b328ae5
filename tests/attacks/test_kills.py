"""A command that is killed at a random moment leaves each file as it was, or whole; the next run is clean."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time

import pytest

from xlcalc.files.ownership import is_ours

KILLS = int(os.environ.get("XLCALC_KILLS", "2"))
CHOOSE = (
    *("choose", "site.toml", "--drives", "drives.csv", "--terms", "terms.toml", "-o", "o.xlsx"),
    *("--front", "0", "--runners", "0", "--seconds", "1"),
)
TERMS = """
money = { currency = "USD", "price per kwh" = 0.11, years = 8, "hours per year" = 5500 }
choice = { "margin pct" = 10 }
"""
COMMANDS = {
    "schedule to a workbook": (
        ("schedule", "drives.csv", "--site", "site.toml", "--solution", "quick", "-o", "o.xlsx"),
        ("o.xlsx",),
    ),
    "schedule to tables": (
        ("schedule", "drives.csv", "--site", "site.toml", "--solution", "quick", "-o", "o.csv"),
        ("o.csv", "o_buses.csv", "o_sites.csv", "o_orders.csv", "o_problems.csv"),
    ),
    "sweep": (
        (
            "sweep",
            "drives.csv",
            "--site",
            "site.toml",
            "--spec",
            "sweep.toml",
            "--samples",
            "8",
            "-o",
            "o.csv",
        ),
        ("o.csv", "o_how.csv", "o_combinations.csv"),
    ),
    "recalculation": (("recalc", "book.xlsx", "-o", "o.xlsx"), ("o.xlsx",)),
    "demo": (("demo", "-o", "o.xlsx"), ("o.xlsx",)),
    "choice": (CHOOSE, ("o.xlsx",)),
    "submittal": (
        ("submittal", "o.xlsx", "-o", "p.xlsx", "--sign", "my.key"),
        ("p.xlsx", "p.xlsx.sig"),
    ),
}
BEFORE = {"submittal": (CHOOSE, ("submittal", "--new-key", "my.key"))}


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs SIGKILL")
@pytest.mark.parametrize("name", COMMANDS)
def test_kills_at_random_moments(start, site, name):
    command, outputs = COMMANDS[name]
    (site / "terms.toml").write_text(TERMS, encoding="utf-8")
    for needed in BEFORE.get(name, ()):
        assert start(*needed).code == 0
    before = {path: path.read_bytes() for path in site.iterdir()}
    begun = time.monotonic()
    assert start(*command).code in (0, 1)
    took = time.monotonic() - begun
    moments = random.Random(20260101)
    for _ in range(KILLS):
        process = subprocess.Popen(
            [sys.executable, "-m", "xlcalc", *command],
            cwd=site,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
        )
        time.sleep(took * moments.uniform(0.3, 1.0))
        process.send_signal(moments.choice([signal.SIGKILL, signal.SIGTERM]))
        _, said = process.communicate(timeout=60)
        assert b"Traceback" not in said
        for output in outputs:
            assert is_ours(site / output), output
    assert start(*command).code in (0, 1)
    assert {path: path.read_bytes() for path in before} == before
    assert not [path.name for path in site.iterdir() if path.name.startswith(".")]
    assert not list(site.glob("*.journal"))
