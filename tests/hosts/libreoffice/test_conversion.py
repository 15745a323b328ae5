"""Workbooks in other formats: LibreOffice converts them where it is installed."""

from __future__ import annotations

import openpyxl
import pytest

from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs.conversion import as_xlsx
from xlcalc.recalc.recalc import recalculate

OPEN_DOCUMENT = """<?xml version="1.0" encoding="UTF-8"?>
<office:document xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"
 xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"
 xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"
 xmlns:of="urn:oasis:names:tc:opendocument:xmlns:of:1.2"
 office:version="1.3" office:mimetype="application/vnd.oasis.opendocument.spreadsheet">
<office:body><office:spreadsheet><table:table table:name="Data">
<table:table-row><table:table-cell office:value-type="float" office:value="4"/>
<table:table-cell table:formula="of:=[.A1]*2.5"/></table:table-row>
</table:table></office:spreadsheet></office:body></office:document>"""


def test_an_open_document_is_converted_and_left_alone(tmp_path, calculator) -> None:
    source, out = tmp_path / "book.ods", tmp_path / "book.xlsx"
    source.write_text(OPEN_DOCUMENT, encoding="utf-8")
    with as_xlsx(source, calculator) as copy:
        assert recalculate(copy, out, {}).clean
    assert not copy.exists()
    assert source.read_text(encoding="utf-8") == OPEN_DOCUMENT
    assert openpyxl.load_workbook(out, data_only=True)["Data"]["B1"].value == 10


def test_a_file_that_is_none_is_answered_with_what_to_do(tmp_path, calculator) -> None:
    source = tmp_path / "book.xlsb"
    source.write_bytes(b"PK\x03\x04 no workbook")
    with (
        pytest.raises(InputError, match=r"book\.xlsb is a binary workbook; save it as \.xlsx first"),
        as_xlsx(source, calculator),
    ):
        pass
