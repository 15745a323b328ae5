"""Data validation of input cells, from the kind that the registry declares."""

from __future__ import annotations

import math

from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.core.plausible import Usual
from xlcalc.schema.fields import Field
from xlcalc.schema.kinds import Choice, Kind, Number, Whole
from xlcalc.workbooks.kit.labels import default_text, label

MAX_LISTED_STEPS = 10
JUST_ABOVE = 1e-6
TITLE_LENGTH = 32
PROMPT_LENGTH = 250


def add(sheet: Worksheet, cells: str, field: Field) -> None:
    """Check and explain an input field in `cells`."""
    rule = _rule(field.kind, cells.split(":")[0])
    rule.allow_blank = True
    _explain(
        rule,
        label(field.name),
        f"{field.doc}. Valid: {field.kind.valid} ({default_text(field)}).",
        field.kind.valid,
    )
    attach(sheet, cells, rule)


def add_list(sheet: Worksheet, cells: str, source: str, title: str, prompt: str) -> None:
    """Drop-down of a named range or range."""
    rule = DataValidation(type="list", formula1=source, allow_blank=False)
    _explain(rule, title, prompt, prompt)
    attach(sheet, cells, rule)


def attach(sheet: Worksheet, cells: str, rule: DataValidation) -> None:
    """Add the rule to the sheet for a range of cells."""
    rule.add(cells)
    sheet.add_data_validation(rule)


def _rule(kind: Kind, first: str) -> DataValidation:
    if isinstance(kind, Choice):
        return _list(kind.options)
    if isinstance(kind, Whole):
        steps = range(kind.low, kind.high + 1, kind.step)
        if kind.step > 1 and len(steps) <= MAX_LISTED_STEPS:
            return _list(tuple(map(str, steps)))
        return DataValidation(
            type="whole", operator="between", formula1=str(kind.low), formula2=str(kind.high)
        )
    if isinstance(kind, Number) and kind.usual is not None:
        return DataValidation(type="custom", formula1=_usual(kind, kind.usual, first))
    if isinstance(kind, Number):
        low = kind.low + JUST_ABOVE if kind.above else kind.low
        if math.isinf(kind.high):
            return DataValidation(type="decimal", operator="greaterThanOrEqual", formula1=_plain(low))
        return DataValidation(
            type="decimal", operator="between", formula1=_plain(low), formula2=_plain(kind.high)
        )
    return DataValidation(type="textLength", operator="between", formula1="1", formula2="60")


def _usual(kind: Number, usual: Usual, cell: str) -> str:
    """Condition for a usual number, zero where it is valid, or a text, whose unit the functions check."""
    least, most = max(kind.low, usual.least), min(kind.high, usual.most)
    size = f"ABS({cell})" if kind.low < 0 else cell
    inside = f"AND({size}>={_plain(least)},{size}<={_plain(most)})"
    zero = "" if kind.above or kind.low > 0 else f"{cell}=0,"
    return f"OR(ISTEXT({cell}),{zero}{inside})"


def _plain(number: float) -> str:
    """A number without an exponent."""
    return f"{number:.9f}".rstrip("0").rstrip(".")


def _list(options: tuple[str, ...]) -> DataValidation:
    return DataValidation(type="list", formula1=f'"{",".join(options)}"')


def _explain(rule: DataValidation, title: str, prompt: str, valid: str) -> None:
    rule.promptTitle = title[:TITLE_LENGTH]
    rule.prompt = prompt[:PROMPT_LENGTH]
    rule.errorTitle = title[:TITLE_LENGTH]
    rule.error = f"Enter {valid}."[:PROMPT_LENGTH]
    if rule.type == "custom":
        rule.error = f"Enter {valid}, 3 for 3 %; an unusual value as a text with its unit."[:PROMPT_LENGTH]
    rule.showInputMessage = True
    rule.showErrorMessage = True
    rule.errorStyle = "stop"
