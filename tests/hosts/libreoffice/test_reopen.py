"""Which formulas are entered again when a workbook is opened."""

from __future__ import annotations

import pytest

from xlcalc.hosts.libreoffice.reopen import Names

NAMES = Names(["HD_THD", "HD_LIMIT_TDD"])


@pytest.mark.parametrize(
    ("written", "resolved"),
    [
        ("=hd_thd(A1)", "=HD_THD(A1)"),
        ("=1+_xlfn.hd_thd(A1)*_xludf.HD_LIMIT_TDD(1;2)", "=1+HD_THD(A1)*HD_LIMIT_TDD(1;2)"),
        ("{=hd_thd (A1:C9)}", "{=HD_THD (A1:C9)}"),
        ("='my hd_thd(1)'!A1+hd_thd(B1)", "='my hd_thd(1)'!A1+HD_THD(B1)"),
    ],
)
def test_unresolved_call(written, resolved):
    assert NAMES.resolved(written) == resolved


@pytest.mark.parametrize(
    "written",
    [
        "=ORG.XLCALC.CALC.FUNCTIONS.HDTHD(A1)",
        "=SUM(A1:A9)",
        '="hd_thd(A1)"',
        "=my_hd_thd(1)",
        "=hd_thd_mine(1)",
        "12",
        "",
    ],
)
def test_left_alone(written):
    assert NAMES.resolved(written) is None
