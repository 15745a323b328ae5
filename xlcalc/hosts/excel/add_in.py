"""The add-in for Excel: the functions in every workbook, plain .xlsx included, without macros in it."""

from __future__ import annotations

import io
from collections.abc import Mapping

from xlcalc import __version__
from xlcalc.hosts.excel.macro_book import ADD_IN_TYPE, macro_book


def add_in(configuration: Mapping[str, str], modules: Mapping[str, str]) -> bytes:
    """The file of the add-in: a workbook of the kind that Excel keeps hidden."""
    import openpyxl
    from openpyxl.workbook.properties import CalcProperties

    book = openpyxl.Workbook()
    book.properties.creator, book.properties.title = "xlcalc", "xlcalc"
    book.properties.description = f"Worksheet functions of xlcalc {__version__}"
    book.calculation = CalcProperties(calcId=191029, fullCalcOnLoad=False)
    source = io.BytesIO()
    book.save(source)
    return macro_book(source, configuration, modules, kind=ADD_IN_TYPE)
