"""What a function receives from Excel and hands back, through the conversion code of xlwings."""

from __future__ import annotations

from datetime import datetime

import pytest

from xlcalc.hosts.excel.cells import value_from_excel, value_to_excel
from xlcalc.hosts.excel.wrappers import ARGUMENT_OPTIONS
from xlcalc.schema.values import CellError, ErrorCode

DIV0 = -2146826281
NA = -2146826246


@pytest.mark.parametrize(
    ("com", "value"),
    [
        (6.0, 6.0),
        ("text", "text"),
        (True, True),
        (None, None),
        ("", None),
        (datetime(2024, 1, 2, 12), 45293.5),
        (DIV0, CellError(ErrorCode.DIV0)),
        (((1.0, 2.0),), [[1.0, 2.0]]),
        (((1.0,), (2.0,)), [[1.0], [2.0]]),
        ((1.0, 2.0), [[1.0, 2.0]]),
        (((1.0,),), 1.0),
        (((1.0, None), ("a", NA)), [[1.0, None], ["a", CellError(ErrorCode.NA)]]),
    ],
)
def test_argument(windows_xlwings, com, value):
    from xlwings import conversion

    converted = value_from_excel(conversion.read(None, com, dict(ARGUMENT_OPTIONS)))
    assert converted == value
    assert type(converted) is type(value)


@pytest.mark.parametrize(
    ("value", "cells"),
    [
        (2.5, [[2.5]]),
        ("PASS", [["PASS"]]),
        (True, [[True]]),
        (None, [[""]]),
        ([[1.0, None], ["a", 2.0]], [[1.0, ""], ["a", 2.0]]),
        (CellError(ErrorCode.NUM, "HD_X: x is 7"), [["#NUM! HD_X: x is 7"]]),
        ([[1.0, CellError(ErrorCode.NA)]], [[1.0, "#N/A"]]),
    ],
)
def test_result(windows_xlwings, value, cells):
    from xlwings import conversion

    written = conversion.write(value_to_excel(value), None, {})
    assert (written if isinstance(written, list) else [[written]]) == cells


def test_decorated_functions_stay_callable(udf_module):
    assert udf_module.HD_SC_AMPS([[1000.0]], [[69.0]]) == pytest.approx(8367.4, rel=1e-5)
    assert udf_module.HD_CREST([[7.0]], [[1.0]]).startswith("#NUM! HD_CREST: pulses is 7")
