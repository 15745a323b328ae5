"""One formula without a workbook, for the command line."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from xlcalc.core.errors import InputError
from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.content import ArrayMark, BookContent, CellFormula, SheetContent
from xlcalc.recalc.evaluation.engine import EngineError
from xlcalc.recalc.evaluation.evaluated import Stored
from xlcalc.recalc.protocol import EvaluatedFunction
from xlcalc.recalc.reasons import Reasons
from xlcalc.schema.values import CellError, ErrorCode, Value

_SHEET = "Formula"
_WITHOUT_CELLS = "a formula without references to cells, such as HD_VERSION() or 1+2"


def _mixes_separators(formula: str) -> bool:
    """Whether commas and semicolons both part arguments; inside braces and quotes they mean something else.

    Examples
    --------
    >>> _mixes_separators("HD_SPECTRUM(6;0,5)"), _mixes_separators('F({1,2;3,4},"a;b")')
    (True, False)
    """
    depth, found, quote = 0, set(), ""
    for sign in formula:
        if quote:
            quote = "" if sign == quote else quote
        elif sign in "\"'":
            quote = sign
        elif sign in "{}":
            depth += 1 if sign == "{" else -1
        elif sign in ",;" and depth == 0:
            found.add(sign)
    return len(found) == 2


def evaluate_formula(
    text: str, functions: Mapping[str, EvaluatedFunction], *, now: datetime | None = None
) -> Value:
    """Evaluate one formula that refers to no cells.

    Parameters
    ----------
    text : str
        With or without its equals sign.
    functions : mapping of name to EvaluatedFunction
    now : datetime, optional
        What NOW and TODAY give; by default the local time.

    Returns
    -------
    Value
        A scalar, a `CellError` with its reason, or a list of row lists for an array.

    Raises
    ------
    InputError
        For text that is no formula, refers to cells or uses what is not supported; says why. An unknown
        function is the error value #NAME?.

    Examples
    --------
    >>> evaluate_formula("=SUM(1,2)*2", {})
    6.0
    """
    formula = text.strip().removeprefix("=").strip()
    if not formula:
        raise InputError("formula", text, _WITHOUT_CELLS)
    if _mixes_separators(formula):
        raise InputError(
            "formula",
            text,
            "commas between arguments and points in numbers, as in HD_SPECTRUM(6,0.5); "
            "this one has commas and semicolons: are its commas decimal signs?",
        )
    sheet = SheetContent(
        _SHEET, "", formulas=[CellFormula(1, 1, formula, ArrayMark.DYNAMIC, CellRange(1, 1, 1, 1))]
    )
    calculation = Calculation(BookContent((sheet,), {}, {}), functions, now)
    calculation.prepare()
    prepared = calculation.prepared[0]
    if prepared.compiled.unknown_function:
        return CellError(ErrorCode.NAME, prepared.compiled.refusal)
    if prepared.compiled.refusal:
        raise InputError("formula", text, f"{_WITHOUT_CELLS}; {prepared.compiled.refusal}")
    if prepared.compiled.areas or prepared.compiled.bases or prepared.compiled.moving:
        raise InputError("formula", text, f"{_WITHOUT_CELLS}; this one refers to cells")
    try:
        outcome = calculation.collect(calculation.evaluate())
    except EngineError as problem:
        raise InputError("formula", text, f"{_WITHOUT_CELLS}; {problem}") from None
    if outcome.refused:
        raise InputError("formula", text, f"{_WITHOUT_CELLS}; {outcome.refused[0]}")
    values: dict[tuple[int, int], Stored] = dict(outcome.values[_SHEET])
    errors = {
        (_SHEET, *position): value for position, value in values.items() if isinstance(value, CellError)
    }
    reasons = Reasons(errors, dict.fromkeys(errors, 0), calculation.nodes(), calculation.calls.reasons)
    for cell, error in errors.items():
        values[cell[1:]] = CellError(error.code, reasons.reason(cell))
    area = outcome.spills.get(0, prepared.area)
    if area.area == 1:
        return values[1, 1]
    return [[values[row, col] for col in range(1, area.last_col + 1)] for row in range(1, area.last_row + 1)]
