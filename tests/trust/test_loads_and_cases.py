"""One slip in what a plant says of loads with a spectrum, of its cases and of generation, through every door.

What is expected follows from the slip alone, as in `test_every_door`: the value cannot be read as meant, so
there is no verdict or the file is refused, and the sentence names the cell or the field. Without a slip the
plant passes through every door.
"""

from __future__ import annotations

import csv
import json
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from xlcalc.cli.app import app
from xlcalc.core.errors import InputError
from xlcalc.schema.inputs.network import NETWORK
from xlcalc.schema.values import Grid, Refused
from xlcalc.worksheet.catalogue import FUNCTIONS

PLANT: dict[str, list[dict[str, Any]]] = {
    "buses": [{"name": "Intake", "kv": 13.8}, {"name": "MCC", "kv": 0.48}],
    "utility": [{"bus": "Intake", "max mva": 220, "min mva": 130, "x/r": 9}],
    "transformers": [
        {
            "name": "T1",
            "from bus": "Intake",
            "to bus": "MCC",
            "kva": 1500,
            "z pct": 5.75,
            "vector group": "Dyn1",
        }
    ],
    "loads": [
        {"name": "Lighting", "bus": "MCC", "kind": "static", "kw": 400, "pf": 0.9},
        {"name": "UPS", "bus": "MCC", "kind": "spectrum", "orders not listed": "zero", "kw": 40, "pf": 0.95},
    ],
    "spectra": [
        {"load": "UPS", "order": 5, "percent": 6, "deg": 0, "source": "data sheet"},
        {"load": "UPS", "order": 7, "percent": 3, "deg": 180},
    ],
}
DRIVES: tuple[tuple[Any, ...], ...] = (
    (
        "tag",
        "rating",
        "unit",
        "efficiency pct",
        "pulses",
        "bus",
        "line reactor pct",
        "dc choke pct",
        "load pct",
    ),
    ("X-1", 60.0, "hp", 94.0, 18.0, "MCC", 3.0, 2.0, 100.0),
)
SETTINGS: dict[str, Any] = {"edition": "2022", "supply": "ideal"}
CASES: list[dict[str, Any]] = [
    {"name": "Day", "share of year pct": 60},
    {"name": "Night", "share of year pct": 40, "drive load pct": 60, "loads": "on"},
]
CORNER = "Plant!A1"


@dataclass(frozen=True)
class Slip:
    """What is typed for one field.

    Parameters
    ----------
    where : str
        "loads" or "spectra" (second and first row), "case" (Night) or "settings".
    field : str
    typed : object
    said : str
        What the sentence names, where it is not the field.
    """

    where: str
    field: str
    typed: Any
    said: str = ""

    @property
    def named(self) -> str:
        return self.said or self.field


SLIPS = {
    "kind of load that is none": Slip("loads", "kind", "ups"),
    "load of a spectrum in MW": Slip("loads", "kw", 0.04),
    "spectrum of a load that is not there": Slip("spectra", "load", "UPS 2"),
    "order with a fraction": Slip("spectra", "order", 5.5),
    "order of the fundamental": Slip("spectra", "order", 1),
    "order twice": Slip("spectra", "order", 7),
    "order beyond the last": Slip("spectra", "order", 55),
    "percent below nought": Slip("spectra", "percent", -6),
    "percent as a word": Slip("spectra", "percent", "six"),
    "percent blank": Slip("spectra", "percent", None),
    "angle as a word": Slip("spectra", "deg", "lagging"),
    "angle beyond a turn": Slip("spectra", "deg", 3600),
    "source of the spectrum blank": Slip("spectra", "source", None),
    "loads of a case as a word that is none": Slip("case", "loads", "half"),
    "load of all drives as a fraction": Slip("case", "drive load pct", 0.6),
    "load of all drives below nought": Slip("case", "drive load pct", -60),
    "load of all drives beyond what a drive has": Slip("case", "drive load pct", 900),
    "load of a drive that is not there": Slip("case", "drive loads", "X-9 40"),
    "load of a drive that is no number": Slip("case", "drive loads", "X-1 half"),
    "load of a drive twice": Slip("case", "drive loads", "X-1 40; X-1 off"),
    "share of the year above all of it": Slip("case", "share of year pct", 140),
    "share of the year as a word": Slip("case", "share of year pct", "rest"),
    "installation that is none": Slip("settings", "installation", "solar"),
    "share of inverters below nought": Slip("settings", "inverter pct", -5),
    "share of inverters as a word": Slip("settings", "inverter pct", "some"),
    "share of inverters that others judge": Slip("settings", "inverter pct", 25, "inverter-based generation"),
}
JUDGED = ("share of inverters that others judge",)
"""Read without complaint: the PCC then has no verdict."""


def inputs(slip: Slip | None) -> tuple[dict[str, list[dict[str, Any]]], list[dict[str, Any]], dict[str, Any]]:
    """Tables, cases and settings with the slip in them."""
    tables, cases, settings = deepcopy(PLANT), deepcopy(CASES), dict(SETTINGS)
    if slip is not None:
        rows = {"case": cases[1], "settings": settings}
        row = rows.get(slip.where) or tables[slip.where][1 if slip.where == "loads" else 0]
        row[slip.field] = slip.typed
    return tables, cases, settings


def asked(slip: Slip | None, quantity: str) -> tuple[Any, str]:
    """What HD_PLANT_VALUE gives in the second case, and the cell in which the slip is."""
    tables, cases, settings = inputs(slip)
    grid: Grid = []
    typed = ""
    for section in NETWORK.sections:
        if section.title not in tables:
            continue
        names = list(dict.fromkeys(name for row in tables[section.title] for name in row))
        grid += [[section.title], list(names)]
        for row in tables[section.title]:
            grid.append([row.get(name) for name in names])
            if slip is not None and slip.where == section.title and row.get(slip.field) == slip.typed:
                cell = f"Plant!{chr(ord('A') + names.index(slip.field))}{len(grid)}"
                typed = typed if slip.typed is None and typed else cell
    grid = [[float(c) if type(c) is int else c for c in row] + [None] * (8 - len(row)) for row in grid]
    own = {**settings, **{k: v for k, v in cases[1].items() if k != "name"}, "network at": CORNER}
    pairs: Grid = [[k, float(v) if type(v) is int else v] for k, v in own.items()]
    drives: Grid = [list(row) for row in DRIVES]
    return FUNCTIONS["HD_PLANT_VALUE"]([grid, drives, "Intake", quantity, pairs]), typed


def test_without_a_slip_the_function_passes() -> None:
    assert asked(None, "VERDICT")[0] == "PASS"


@pytest.mark.parametrize("name", SLIPS)
def test_worksheet_function(name: str) -> None:
    slip = SLIPS[name]
    verdict, typed = asked(slip, "VERDICT")
    assert verdict == "NO VERDICT"
    reason, _ = asked(slip, "REASON")
    assert slip.named in reason, reason
    if typed:
        assert isinstance(verdict, Refused)
        assert verdict.error.typed == typed, reason


def plant_files(folder: Path, slip: Slip | None) -> tuple[Path, Path]:
    """Plant and drives as files."""
    tables, cases, settings = inputs(slip)
    path, drives = folder / "plant.toml", folder / "drives.csv"
    parts = [("[settings]", settings), *(("[[cases]]", case) for case in cases)]
    parts += [(f"[[{title}]]", row) for title, rows in tables.items() for row in rows]
    lines = []
    for heading, values in parts:
        lines.append(heading)
        lines += [f"{json.dumps(k)} = {json.dumps(v)}" for k, v in values.items() if v is not None]
    path.write_text("\n".join(lines), encoding="utf-8")
    with drives.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream).writerows(DRIVES)
    return path, drives


SPEC = '[sweep]\nsamples = 2\nseed = 1\n[network.utility]\n"x/r" = { low = 6, high = 9 }\n'
TERMS = '[money]\n"price per kwh" = 0.1\nyears = 5\n"hours per year" = 4000\n[choice]\npcc = ["Intake"]\n'


def through(folder: Path, slip: Slip | None, command: str) -> tuple[int, str]:
    """Exit code of a command, and all that it printed and wrote as text."""
    plant, drives = plant_files(folder, slip)
    spec, target = folder / "spec.toml", folder / "out"
    target.mkdir()
    spec.write_text(SPEC if command == "sweep" else TERMS, encoding="utf-8")
    words = {
        "schedule": [str(drives), "--site", str(plant), "-o", str(target / "r.csv")],
        "sweep": [str(drives), "--site", str(plant), "--spec", str(spec), "-o", str(target / "r.csv")],
        "choose": [str(plant), "--drives", str(drives), "--terms", str(spec), "-o", str(target / "r.xlsx")],
    }[command]
    if command == "choose":
        words += ["--front", "0", "--runners", "0", "--seconds", "3"]
    run = CliRunner().invoke(app, [command, *words])
    assert isinstance(run.exception, SystemExit | InputError | None), run.exception
    refusal = str(run.exception) if isinstance(run.exception, InputError) else ""
    texts = [p.read_text("utf-8") for p in sorted(target.iterdir()) if p.suffix == ".csv"]
    return run.exit_code, " ".join([run.output, refusal, *texts]).replace("\n", " ")


@pytest.mark.parametrize("command", ["schedule", "sweep", "choose"])
def test_without_a_slip_a_command_answers(tmp_path: Path, command: str) -> None:
    code, told = through(tmp_path, None, command)
    assert code == 0, told
    assert ("in 0 % of the combinations" if command == "sweep" else "PASS") in told


@pytest.mark.parametrize("command", ["schedule", "sweep", "choose"])
@pytest.mark.parametrize("name", SLIPS)
def test_file_of_a_plant(tmp_path: Path, name: str, command: str) -> None:
    """Refused with its field, or in no sum and without a verdict."""
    slip = SLIPS[name]
    code, told = through(tmp_path, slip, command)
    assert "PASS" not in told
    assert slip.named in told or slip.field in told, told
    if name not in JUDGED or command == "choose":
        assert code != 0
    else:
        assert "NO VERDICT" in told or "No verdict" in told


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("sweep", "what nameplates leave open of drives is drawn anew in each combination"),
        ("choose", "PASS with assumed dc choke pct, dc capacitance"),
    ],
)
def test_what_nameplates_leave_open_is_tried(
    tmp_path: Path, command: str, said: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A choke of which only "yes" is known: both commands try its range and say so."""
    heading, row = DRIVES
    words = tuple("yes" if name == "dc choke pct" else cell for name, cell in zip(heading, row, strict=True))
    monkeypatch.setattr(f"{__name__}.DRIVES", (heading, words))
    _, told = through(tmp_path, None, command)
    assert said in told
    if command == "choose":
        assert "P95 of what nameplates leave open" in told


OPEN_ORDERS = Slip("loads", "orders not listed", None, "the spectrum of UPS ends at order 7")


def test_orders_of_a_load_that_nobody_gave() -> None:
    assert asked(OPEN_ORDERS, "VERDICT")[0] == "NO VERDICT"
    assert OPEN_ORDERS.named in asked(OPEN_ORDERS, "REASON")[0]


@pytest.mark.parametrize("command", ["schedule", "choose"])
def test_orders_of_a_load_that_nobody_gave_in_files(tmp_path: Path, command: str) -> None:
    _, told = through(tmp_path, OPEN_ORDERS, command)
    assert OPEN_ORDERS.named in told
    assert "Verdict: PASS" not in told
    assert "NO VERDICT" in told
    assert command != "choose" or "PASS" not in told
