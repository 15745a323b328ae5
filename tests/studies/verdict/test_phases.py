"""The three phases of a PCC, against the phases of one drive alone and against symmetrical components."""

from __future__ import annotations

import numpy as np
import pytest

import xlcalc as xl
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.sequence import components
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.pcc import PccOptions
from xlcalc.studies.plant import ScheduledDrive, StudiedPlant
from xlcalc.studies.verdict.assessment import assess
from xlcalc.studies.verdict.phases import OVERALL, PHASES, TOTAL, phase_table, phases_differ
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.plant.phases import ALIKE

UNBALANCE = {"unbalance pct": 2.0, "background 5th pct": 0.0, "supply": "ideal"}
DRIVE = xl.Drive("P1", kw=200, pulses=6, line_reactor_pct=3)
SITE = {"utility_kv": 13.8, "utility_mva": 200, "transformer_kva": 1500, "transformer_z_pct": 5.75}


def study(**settings: object) -> xl.Study:
    plant = xl.Plant(**SITE, main_bus_volts=480, settings={**UNBALANCE, **settings})
    return xl.study(plant, [DRIVE])


def test_phases_of_one_drive_are_those_of_its_own_spectrum() -> None:
    """The circuit of one drive alone, solved by HD_SPECTRUM phase by phase, here through a plant."""
    found = study().phases().set_index("order")
    source, x_over_r = study().drives().iloc[0][["source pct", "source x/r"]]
    settings = [["unbalance pct", 2.0], ["source x/r", float(x_over_r)]]
    alone = [
        np.array(FUNCTIONS["HD_SPECTRUM"]([6.0, float(source), 3.0, 0.0, 100.0, settings, float(phase)]))[
            :, 1
        ]
        for phase in (1, 2, 3)
    ]
    for phase, spectrum in zip(PHASES, alone, strict=True):
        own = found[f"current {phase} pct"]
        shares = [100.0 * own[h] / own[1.0] for h in (3.0, 5.0, 7.0, 11.0)]
        assert shares == pytest.approx([spectrum[h - 1] for h in (3, 5, 7, 11)], rel=0.02, abs=0.05)


def test_squares_of_the_phases_are_those_of_the_symmetrical_components() -> None:
    """sum |I_abc|^2 = 3 (|I_0|^2 + |I_1|^2 + |I_2|^2), an identity of the transformation."""
    network = series_network(
        Utility(13_800, 200e6, 10, unbalance_pct=2.0), Transformer(1.5e6, 5.75, 6, 13_800, 480)
    )
    drive = ScheduledDrive("P1", 200e3, FrontEnd(pulses=6, source_pct=1.0, reactor_pct=3.0))
    assessment = assess(
        StudiedPlant(network, (drive,)), PccOptions("main", demand_amps=500.0), supply="ideal"
    )
    pcc = assessment.require_pcc()
    assert phases_differ(pcc)
    sequences = components(pcc.currents)
    total = 3.0 * np.sum(np.abs(sequences[:, 1:]) ** 2)
    assert np.sum((pcc.phase_tdd_pct * 5.0) ** 2) == pytest.approx(total, rel=1e-9)
    assert pcc.phase_tdd_pct.max() == pytest.approx(pcc.tdd_pct)
    assert pcc.phase_thdv_pct.max() == pytest.approx(pcc.thdv_pct)
    table = phase_table(assessment)
    assert table is not None
    *_, totals, whole = table.rows
    assert (totals[0], whole[0]) == (TOTAL, OVERALL)
    assert totals[1:4] == pytest.approx(pcc.phase_tdd_pct.tolist())
    worst = "FAIL" if "FAIL" in whole[-3:] else "PASS"
    assert worst == assessment.word


def test_the_worst_phase_is_the_verdict_and_only_phases_beyond_a_limit_fail() -> None:
    found = study()
    phases = found.phases().set_index("order")
    for phase in PHASES:
        beyond = (phases[f"current {phase} pct"] > phases["current limit pct"]) | (
            phases[f"voltage {phase} pct"] > phases["voltage limit pct"]
        )
        judged = phases[f"verdict {phase}"]
        assert set(judged[beyond].drop(OVERALL, errors="ignore")) <= {"FAIL"}
        assert judged[OVERALL] == ("FAIL" if beyond.any() else "PASS")
    words = {phases.loc[OVERALL, f"verdict {phase}"] for phase in PHASES}
    assert ("FAIL" in words) == (found.verdict == "FAIL")


def test_alike_phases_have_no_table_and_a_doubted_plant_no_verdict_by_phase() -> None:
    assert study(**{"unbalance pct": 0.0}).phases().empty
    doubted = study(**{"inverter pct": 20.0}).phases().set_index("order")
    assert {doubted.loc[OVERALL, f"verdict {phase}"] for phase in PHASES} == {"NO VERDICT"}
    by_typical = study(**{"unbalance pct": None, "background 5th pct": None, "supply": "typical"})
    if by_typical.verdict == "NO VERDICT":
        assert set(by_typical.phases()["supply"]) == {"typical supply"}


def test_buses_show_their_phases_and_the_unbalance() -> None:
    """2 % at an infinite utility; the drive changes it a little."""
    buses = study().buses().set_index("bus")
    own = buses.loc["main", [f"voltage thd {phase} pct" for phase in PHASES]]
    assert own.max() == pytest.approx(buses.loc["main", "voltage thd pct"])
    assert buses.loc["utility", "voltage unbalance pct"] == pytest.approx(2.0, abs=0.05)
    assert study(**{"unbalance pct": 0.0}).buses()["phase with the largest"].tolist() == ["", ""]


def test_functions_give_the_same_and_say_where_phases_are_alike() -> None:
    drives = [["tag", "rating", "unit", "efficiency pct", "pulses", "line reactor pct"]]
    drives.append(["P1", 200.0, "kW", 100.0, 6.0, 3.0])  # type: ignore[list-item]
    site = [
        *(["utility kv", 13.8], ["utility mva", 200.0], ["transformer kva", 1500.0]),
        *(["transformer z pct", 5.75], ["main bus volts", 480.0]),
    ]
    rows = {}
    for percent in (0.0, 2.0):
        settings = [["unbalance pct", percent], ["background 5th pct", 0.0], ["supply", "ideal"]]
        rows[percent] = FUNCTIONS["HD_PCC_PHASES"]([drives, site, settings])
        table = FUNCTIONS["HD_PCC"]([drives, site, settings])
        assert max(rows[percent][4][1:4]) == pytest.approx(table[4][2])  # type: ignore[index]
    assert rows[0.0][-1][0] == f"{OVERALL}, {ALIKE}"  # type: ignore[index]
    assert rows[2.0][-1][0] == OVERALL  # type: ignore[index]
