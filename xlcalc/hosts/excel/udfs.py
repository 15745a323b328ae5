"""The module that Excel calls through xlwings: every worksheet function of the registry under its name."""

from __future__ import annotations

import xlwings

from xlcalc.hosts.excel.wrappers import decorated
from xlcalc.worksheet.catalogue import FUNCTIONS

globals().update({name: decorated(xlwings, function) for name, function in FUNCTIONS.items()})
