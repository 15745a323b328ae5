"""xlcalc host: what it prints and its exit codes."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from xlcalc.cli import app
from xlcalc.errors import InputError

RUN = CliRunner()


def test_excel_files_are_written_checked_and_removed(tmp_path):
    pytest.importorskip("xlwings", reason="xlwings is not installed")
    folder = ["--folder", str(tmp_path)]
    done = RUN.invoke(app, ["host", "install", "excel", *folder])
    assert done.exit_code == 0, done.output
    assert "1. " in done.output
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".bas", ".xlsm"]
    checked = RUN.invoke(app, ["host", "check", "excel", *folder])
    assert checked.exit_code == 1
    assert "missing  drive_study.xlsm holds the module xlcalc_functions" in checked.output
    removed = RUN.invoke(app, ["host", "remove", "excel", *folder])
    assert removed.exit_code == 0
    assert [path.suffix for path in tmp_path.iterdir()] == [".xlsm"]
    assert isinstance(RUN.invoke(app, ["host", "remove", "excel", *folder]).exception, InputError)


def test_unknown_host_is_refused():
    assert RUN.invoke(app, ["host", "install", "abacus"]).exit_code == 2


def test_office_that_is_not_there_is_named(tmp_path):
    failed = RUN.invoke(app, ["host", "check", "libreoffice", "--office", str(tmp_path)])
    assert isinstance(failed.exception, InputError)
    assert "LibreOffice is" in str(failed.exception)
