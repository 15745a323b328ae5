"""Validation rules follow the kinds of the registry."""

from __future__ import annotations

import pytest
from openpyxl import Workbook

from xlcalc.core.plausible import Usual
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.schema.inputs.settings import PLANT_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.workbooks.kit import validation


def rule_for(field: Field) -> object:
    sheet = Workbook().worksheets[0]
    validation.add(sheet, "B2", field)
    (rule,) = sheet.data_validations.dataValidation
    return rule


@pytest.mark.parametrize(
    ("field", "expected"),
    [
        (Field("pct", Number(0, 30, "%"), "A reactor"), ("decimal", "between", "0", "30")),
        (
            Field("kva", Number(0, 1e6, "kVA", above=True), "A rating"),
            ("decimal", "between", "0.000001", "1000000"),
        ),
        (
            Field("pct", Number(0, 30, "%", usual=Usual(0.5)), "A reactor"),
            ("custom", None, "OR(ISTEXT(B2),B2=0,AND(B2>=0.5,B2<=30))", None),
        ),
        (
            Field("z", Number(0, 50, "%", above=True, usual=Usual(1.0, 20.0)), "An impedance"),
            ("custom", None, "OR(ISTEXT(B2),AND(B2>=1,B2<=20))", None),
        ),
        (Field("x", Number(1, float("inf")), "A ratio"), ("decimal", "greaterThanOrEqual", "1", None)),
        (Field("n", Whole(1, 1000), "A count"), ("whole", "between", "1", "1000")),
        (Field("p", Whole(6, 48, 6), "Pulses"), ("list", None, '"6,12,18,24,30,36,42,48"', None)),
        (Field("bus", Choice(("main", "second")), "A bus"), ("list", None, '"main,second"', None)),
        (Field("tag", Text(), "A name"), ("textLength", "between", "1", "60")),
    ],
)
def test_rule_of_a_kind(field: Field, expected: tuple[str | None, ...]) -> None:
    rule = rule_for(field)
    assert (rule.type, rule.operator, rule.formula1, rule.formula2) == expected


@pytest.mark.parametrize(
    "field", [*SITE.fields, *DRIVES.fields, *PLANT_SETTINGS.fields], ids=lambda field: field.name
)
def test_every_field_has_a_prompt_within_the_limits_of_the_format(field: Field) -> None:
    rule = rule_for(field)
    assert field.doc in rule.prompt
    assert 0 < len(rule.promptTitle) <= 32
    assert len(rule.prompt) <= 255
    assert 0 < len(rule.error) <= 255
    assert len(rule.formula1) <= 255
