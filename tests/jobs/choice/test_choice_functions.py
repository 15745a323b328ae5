"""HD_CHOICE and HD_CHOICE_VALUE in a sheet, against the plant functions with the chosen front ends."""

from __future__ import annotations

import pytest

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.plant.choice import COLUMNS

NETWORK = (
    '{"buses","","","","","";"name","kv","","","","";"U",13.8,"","","","";"M",0.48,"","","","";'
    '"utility","","","","","";"bus","max mva","min mva","","","";"U",200,120,"","","";'
    '"transformers","","","","","";"name","from bus","to bus","kva","z pct","vector group";'
    '"T1","U","M",1000,5.3,"Dyn1";'
    '"loads","","","","","";"name","bus","kw","pf","","";"L","M",250,0.9,"",""}'
)
SCHEDULE = '"tag","rating","unit","efficiency pct","pulses","bus","line reactor pct"'
DRIVES = f'{{{SCHEDULE};"P1",200,"kW",100,6,"M",3;"P2",100,"kW",100,6,"M",0}}'
CHOSEN = f'{{{{{SCHEDULE};"P1",200,"kW",100,{{0}},"M",{{1}};"P2",100,"kW",100,{{2}},"M",{{3}}}}}}'
OPTIONS = (
    '{"front ends","","","","","";"option","pulses","line reactor pct","price a","price b","load loss pct";'
    '"none",6,"",0,0,"";"reactor",6,5,100,10,0.5;"12-pulse",12,"",400,60,1;"18-pulse",18,"",500,100,1.5}'
)
TERMS = (
    '{{"general terms","","";"price per kwh","years","margin pct";0.1,5,{margin};'
    '"pcc","","";"bus","margin pct","";"U","","";'
    '"cases","","";"case","short circuit","";"strong","maximum","";"weak","minimum",""{pins}}}'
)
AS_BUILT = {"none": (6, 0), "reactor": (6, 5), "12-pulse": (12, 0), "18-pulse": (18, 0)}


def ask(function, margin=5, pins="", last="", options=OPTIONS):
    terms = TERMS.format(margin=margin, pins=pins)
    return evaluate_formula(f"={function}({NETWORK},{DRIVES},{options},{terms}{last})", FUNCTIONS)


def figure(quantity, **more):
    return ask("HD_CHOICE_VALUE", last=f',"{quantity}"', **more)


def test_table_and_figures_agree_with_the_plant_functions():
    rows = ask("HD_CHOICE")
    assert [row[0] for row in rows] == ["P1", "P2", "total"]
    assert all(len(row) == len(COLUMNS) for row in rows)
    assert rows[-1][2] == figure("VERDICT") == "PASS"
    assert rows[-1][5] == pytest.approx(sum(row[5] for row in rows[:2]))
    assert rows[-1][5] == pytest.approx(figure("COST"))
    built = [value for row in rows[:2] for value in AS_BUILT[row[2]]]
    drives = CHOSEN.format(*built)
    found = [
        evaluate_formula(
            f'=HD_PLANT_VALUE({NETWORK},{drives},"U","TYPICAL_TDD",{{"short circuit","{level}"}})', FUNCTIONS
        )
        for level in ("maximum", "minimum")
    ]
    assert figure("TDD") == pytest.approx(max(found), rel=5e-4)
    assert rows[-1][6] == pytest.approx(max(found), rel=5e-4)
    assert figure("MARGIN") >= 5.0
    assert 0.0 <= figure("GAP") <= 0.5
    assert figure("BOUND") <= figure("COST") + 1e-6


def test_cost_by_hand():
    """Pinned: 500 + 100 x 200 and 100 + 10 x 100; 1.5 % of 200 kW, 0.5 % of 100 kW, 6000 h, 5 a, 0.1."""
    pins = ';"pins","","";"drives","options","";"P1","18-pulse","";"P2","reactor",""'
    rows = ask("HD_CHOICE", margin=0, pins=pins)
    assert [row[2] for row in rows[:2]] == ["18-pulse", "reactor"]
    assert [row[3] for row in rows[:2]] == pytest.approx([20500.0, 1100.0])
    assert [row[4] for row in rows[:2]] == pytest.approx([3.0 * 6000 * 0.5, 0.5 * 6000 * 0.5])


def test_stricter_margin_never_costs_less():
    costs = [
        figure("COST", margin=margin) for margin in (0, 20, 40) if figure("VERDICT", margin=margin) == "PASS"
    ]
    assert len(costs) >= 2
    assert costs == sorted(costs)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        (
            {"pins": ';"pins","","";"drives","options","";"P9","none",""'},
            "is P9; valid: a tag of the schedule",
        ),
        ({"pins": ';"pins","","";"drives","options","";"P1","magic",""'}, "is magic; valid: one of"),
        (
            {"pins": ';"pins","","";"drives","options","";"P1","none","";"P1","12-pulse",""'},
            "pins of P1 is contradictory: cell B13 of table pins of terms wants none; cell B14",
        ),
        ({"options": OPTIONS.replace('"reactor",6,5,100,10', '"reactor",6,5,"",""')}, "price a (cell D4 of"),
        ({"options": OPTIONS.replace('"12-pulse",12', '"12-pulse",13')}, "pulses in cell B5"),
        ({"margin": 95}, "margin pct in cell C3"),
    ],
)
def test_bad_cells_are_named(changed, message):
    result = ask("HD_CHOICE", **changed)
    assert isinstance(result, CellError)
    assert message in result.reason
