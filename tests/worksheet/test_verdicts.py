"""Verdict tables as a sheet sees them: columns, scope, options, and units that do not fit."""

from __future__ import annotations

import pytest

from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.standards.verdict_rows import VERDICT_COLUMNS

VERDICTS = [name for name in FUNCTIONS if name.startswith("HD_VERDICT_")]
SIX_PULSE = "{1,100;5,20;7,12;11,8;13,6}"


def value(formula: str) -> object:
    return evaluate_formula(formula, FUNCTIONS)


@pytest.mark.parametrize("name", VERDICTS)
def test_every_verdict_table_has_the_same_columns_and_a_source(name: str) -> None:
    inner = FUNCTIONS[name].examples[0].formula.removeprefix("=INDEX(").rsplit(",", 2)[0]
    rows = value(f"={inner}")
    assert isinstance(rows, list)
    shape = FUNCTIONS[name].shape
    assert shape is not None
    assert shape.columns == VERDICT_COLUMNS
    assert shape.rows in (None, len(rows))
    *limits, overall = rows
    assert overall[0] == "overall"
    assert overall[5] in ("PASS", "FAIL", "NO VERDICT")
    assert overall[6]
    assert overall[8]
    for row in limits:
        quantity, order, measured, limit, margin, verdict, clause, _, verified = row
        assert quantity
        assert clause
        assert verified
        assert order == "" or 2 <= order <= 50
        if verdict in ("NOT GIVEN", "NO VERDICT"):
            assert margin == ""
            assert (measured == "") is (verdict == "NOT GIVEN")
        else:
            assert margin == pytest.approx(limit - measured)
            assert verdict == ("PASS" if measured <= limit else "FAIL")


@pytest.mark.parametrize("amps", [16, 75.5, 200])
def test_equipment_beyond_the_scope_gets_no_verdict(amps: float) -> None:
    result = value(f"=HD_VERDICT_IEC61000_3_12({SIX_PULSE},{amps},120)")
    assert isinstance(result, CellError)
    assert result.code is ErrorCode.NUM
    assert "above 16 to 75 A, the scope of IEC 61000-3-12" in result.reason


def test_raised_limits_are_an_option_with_a_condition() -> None:
    held = "{1,90;5,1;7,1;11,2.7},100,15,0.48,2014"
    assert value(f"=INDEX(HD_VERDICT_IEEE519({held}),11,6)") == "FAIL"
    assert value(f'=INDEX(HD_VERDICT_IEEE519({held},"yes"),11,6)') == "PASS"
    loud = held.replace("5,1;", "5,1.1;")
    assert value(f'=INDEX(HD_VERDICT_IEEE519({loud},"yes"),11,6)') == "FAIL"


def test_order_without_a_limit_has_a_reason() -> None:
    for formula in ('=HD_LIMIT_EN50160("LV",27)', "=HD_LIMIT_IEC61000_3_12(17,120)"):
        result = value(formula)
        assert isinstance(result, CellError)
        assert result.code is ErrorCode.NUM
        assert "gives no limit for order" in result.reason


def test_volts_for_percent_are_refused() -> None:
    result = value("=HD_VERDICT_IEC61000_2_4({1,230;5,9.2},2)")
    assert isinstance(result, CellError)
    assert "fundamental in spectrum_pct is 230; valid:" in result.reason
    assert value("=INDEX(HD_VERDICT_IEC61000_2_4({5,4;7,3},2),4,3)") == 4.0


def test_own_limits_name_their_document() -> None:
    rows = '=INDEX(HD_VERDICT_OWN({5,4;7,3},{5,3;7,4},,"site agreement"),1,%d)'
    assert value(rows % 7) == "site agreement user's own table"
    assert value(rows % 9) == "user"
    refused = value("=HD_VERDICT_OWN({5,4},{1,3})")
    assert isinstance(refused, CellError)
    assert "order in limits is 1" in refused.reason


def test_separate_pulses_have_no_notch() -> None:
    assert value('=INDEX(HD_VERDICT_NOTCH(480,60,100,"special",0.5),1,3)') == 0.0
    assert value('=INDEX(HD_VERDICT_NOTCH(480,60,100,"special",0.5),2,1)') == "notch area, V us"


def test_notch_area_in_volt_microseconds_follows_the_voltage_and_the_cycle() -> None:
    """The per-unit waveform is one and the same: area in V s goes with V / f."""
    small = value('=INDEX(HD_VERDICT_NOTCH(480,60,100,"general",1,3,4),2,3)')
    large = value('=INDEX(HD_VERDICT_NOTCH(690,50,400,"general",1,3,4),2,3)')
    assert isinstance(small, float)
    assert large == pytest.approx(small * 690 / 480 * 60 / 50)
