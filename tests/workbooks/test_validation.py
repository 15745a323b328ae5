"""Validation rules follow the kinds of the registry."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from xlcalc.plausible import Usual
from xlcalc.workbooks.kit import validation
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant_fields import DRIVES, PLANT_SETTINGS, SITE
from xlcalc.worksheet.kinds import Choice, Number, Text, Whole


def rule_for(field: Argument) -> object:
    sheet = Workbook().worksheets[0]
    validation.add(sheet, "B2", field)
    (rule,) = sheet.data_validations.dataValidation
    return rule


@pytest.mark.parametrize(
    ("field", "expected"),
    [
        (Argument("pct", Number(0, 30, "%"), "A reactor"), ("decimal", "between", "0", "30")),
        (
            Argument("kva", Number(0, 1e6, "kVA", above=True), "A rating"),
            ("decimal", "between", "0.000001", "1000000"),
        ),
        (
            Argument("pct", Number(0, 30, "%", usual=Usual(0.5)), "A reactor"),
            ("custom", None, "OR(ISTEXT(B2),B2=0,AND(B2>=0.5,B2<=30))", None),
        ),
        (
            Argument("z", Number(0, 50, "%", above=True, usual=Usual(1.0, 20.0)), "An impedance"),
            ("custom", None, "OR(ISTEXT(B2),AND(B2>=1,B2<=20))", None),
        ),
        (Argument("x", Number(1, float("inf")), "A ratio"), ("decimal", "greaterThanOrEqual", "1", None)),
        (Argument("n", Whole(1, 1000), "A count"), ("whole", "between", "1", "1000")),
        (Argument("p", Whole(6, 48, 6), "Pulses"), ("list", None, '"6,12,18,24,30,36,42,48"', None)),
        (Argument("bus", Choice(("main", "second")), "A bus"), ("list", None, '"main,second"', None)),
        (Argument("tag", Text(), "A name"), ("textLength", "between", "1", "60")),
    ],
)
def test_rule_of_a_kind(field: Argument, expected: tuple[str | None, ...]) -> None:
    rule = rule_for(field)
    assert (rule.type, rule.operator, rule.formula1, rule.formula2) == expected


@pytest.mark.parametrize(
    "field", [*SITE.fields, *DRIVES.fields, *PLANT_SETTINGS.fields], ids=lambda field: field.name
)
def test_every_field_has_a_prompt_within_the_limits_of_the_format(field: Argument) -> None:
    rule = rule_for(field)
    assert field.doc in rule.prompt
    assert 0 < len(rule.promptTitle) <= 32
    assert len(rule.prompt) <= 255
    assert 0 < len(rule.error) <= 255
    assert len(rule.formula1) <= 255
