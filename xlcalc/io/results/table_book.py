"""Tables as a workbook: openpyxl makes everything but the rows, which are written column by column."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable, Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from xlcalc.files.celltext import STARTS, storable
from xlcalc.io.results.row_xml import plain_columns, row_xml
from xlcalc.recalc.loaded import saved

_WIDEST: Final = 60
_FORMATS: Final = ((1000.0, "0.0"), (10.0, "0.00"), (0.0, "0.0000"))
"""Format of a column by its largest number."""

_END_OF_ROWS: Final = b"</sheetData>"
Finish = Callable[[Workbook], None]


def table_book(tables: Mapping[str, pd.DataFrame], finish: Finish | None = None) -> bytes:
    """A workbook with a sheet per table; a text is never a formula.

    Parameters
    ----------
    tables : mapping of name to DataFrame
        Sheets in their order.
    finish : callable, optional
        Adds to the workbook, such as charts; the rows below the headings are not in it yet.
    """
    book = Workbook(write_only=True)
    quoted = 0
    styles: list[list[int]] = []
    for name, table in tables.items():
        sheet: Any = book.create_sheet(name)
        quoted = _quoted_style(sheet)
        styles.append([_number_style(sheet, table[column]) for column in table.columns])
        sheet.freeze_panes = "A2"
        sheet.page_setup.orientation = "landscape"
        sheet.page_setup.fitToHeight = 0
        sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
        for number, column in enumerate(table.columns, start=1):
            sheet.column_dimensions[get_column_letter(number)].width = _width(str(column), table[column])
        sheet.append([_heading(sheet, str(column)) for column in table.columns])
        if len(table):
            sheet.auto_filter.ref = f"A1:{get_column_letter(len(table.columns))}{len(table) + 1}"
    if finish is not None:
        finish(book)
    numbers = [book.sheetnames.index(name) + 1 for name in tables]
    rows = dict(zip(numbers, zip(tables.values(), styles, strict=True), strict=True))
    return _with_rows(io.BytesIO(saved(book)), rows, quoted)


def _with_rows(skeleton: io.BytesIO, tables: dict[int, tuple[pd.DataFrame, list[int]]], quoted: int) -> bytes:
    """The workbook with the rows of the tables, which are keyed by the number of their sheet."""
    of_part = {f"xl/worksheets/sheet{n}.xml": table for n, table in tables.items()}
    whole = io.BytesIO()
    with (
        zipfile.ZipFile(skeleton) as source,
        zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as target,
    ):
        for name in source.namelist():
            content = source.read(name)
            if name not in of_part:
                target.writestr(name, content)
                continue
            table, styles = of_part[name]
            letters = [get_column_letter(n + 1) for n in range(len(table.columns))]
            head, mark, tail = content.rpartition(_END_OF_ROWS)
            with target.open(name, "w", force_zip64=True) as stream:
                stream.write(head)
                for piece in row_xml(plain_columns(table), letters, 2, quoted, styles):
                    stream.write(piece)
                stream.write(mark + tail)
    return whole.getvalue()


def _heading(sheet: Any, text: str) -> Any:
    cell = WriteOnlyCell(sheet, storable(text))
    cell.data_type = "s"
    cell.font = Font(bold=True)
    cell.quotePrefix = text.startswith(STARTS)
    return cell


def _quoted_style(sheet: Any) -> int:
    """Index of the cell style that marks a text as a text."""
    cell: Any = WriteOnlyCell(sheet, "")
    cell.quotePrefix = True
    return int(cell.style_id)


def _number_style(sheet: Any, column: pd.Series[Any]) -> int:
    """Index of the cell style that shows the digits which matter; the values keep them all."""
    if not (isinstance(column.dtype, np.dtype) and column.dtype.kind == "f"):
        return 0
    sizes = np.abs(column[np.isfinite(column)].to_numpy())
    if (sizes == np.round(sizes)).all():
        return 0
    cell: Any = WriteOnlyCell(sheet, 0.0)
    cell.number_format = next(shown for least, shown in _FORMATS if sizes.max() >= least)
    return int(cell.style_id)


def _width(heading: str, column: pd.Series[Any]) -> float:
    longest = max((len(str(cell)) for cell in column.head(50) if isinstance(cell, str)), default=0)
    return float(min(_WIDEST, 2 + max(len(heading), longest, 8)))
