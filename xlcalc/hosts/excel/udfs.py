"""The module that Excel calls through xlwings: every worksheet function of the registry under its name."""

from __future__ import annotations

import xlwings

from xlcalc.hosts.excel.wrappers import decorated
from xlcalc.hosts.memo import Memo
from xlcalc.worksheet.catalogue import FUNCTIONS

MEMO = Memo()

globals().update({name: decorated(xlwings, function, MEMO) for name, function in FUNCTIONS.items()})
