"""xlcalc host: what it prints and its exit codes."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from xlcalc.cli.app import app
from xlcalc.core.errors import InputError
from xlcalc.hosts.libreoffice.programs import office as office_module

RUN = CliRunner()


def test_excel_files_are_written_checked_and_removed(tmp_path):
    folder = ["--folder", str(tmp_path)]
    done = RUN.invoke(app, ["host", "install", "excel", *folder])
    assert done.exit_code == 0, done.output
    assert "1. " in done.output
    assert [path.suffix for path in tmp_path.iterdir()] == [".xlsm"]
    checked = RUN.invoke(app, ["host", "check", "excel", *folder])
    assert checked.exit_code == 1
    assert "ok       drive_study.xlsm holds the VBA modules xlcalc_functions" in checked.output
    assert isinstance(RUN.invoke(app, ["host", "remove", "excel", *folder]).exception, InputError)


def test_modules_of_excel_are_written_as_text_and_removed(tmp_path):
    folder = ["--folder", str(tmp_path)]
    done = RUN.invoke(app, ["host", "install", "excel", "--modules", *folder])
    assert "Import File" in done.output
    assert [path.name for path in tmp_path.iterdir()] == ["xlcalc_modules"]
    removed = RUN.invoke(app, ["host", "remove", "excel", *folder])
    assert removed.exit_code == 0
    assert list(tmp_path.iterdir()) == []


def test_unknown_host_is_refused():
    assert RUN.invoke(app, ["host", "install", "abacus"]).exit_code == 2


def test_office_that_is_not_there_is_named(tmp_path):
    failed = RUN.invoke(app, ["host", "check", "libreoffice", "--office", str(tmp_path)])
    assert isinstance(failed.exception, InputError)
    assert "LibreOffice is" in str(failed.exception)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["install", "excel", "--office", "/opt"], "--office is /opt; valid: given with libreoffice only"),
        (["install", "libreoffice", "--folder", "x"], "--folder is x; valid: given with excel only"),
        (["check", "libreoffice", "--folder", "x"], "--folder is x; valid: given with excel only"),
        (["install", "libreoffice", "--add-in"], "--add-in is given; valid: given with excel only"),
        (["install", "excel", "--template", "nothing"], "TEMPLATE is nothing; valid: one of"),
        (["install", "excel", "--add-in", "--template", "plant_study"], "which needs no template"),
        (["check", "excel", "--folder", "/no/such"], "--folder is /no/such; valid: a folder that exists"),
    ],
)
def test_wrong_options_are_refused_in_words(arguments, said):
    failed = RUN.invoke(app, ["host", *arguments])
    assert isinstance(failed.exception, InputError)
    assert said in str(failed.exception)


def test_add_in_of_excel_is_written_checked_and_removed(tmp_path):
    folder = ["--folder", str(tmp_path)]
    done = RUN.invoke(app, ["host", "install", "excel", "--add-in", "--python", r"C:\p\python.exe", *folder])
    assert done.exit_code == 0, done.output
    assert [path.name for path in tmp_path.iterdir()] == ["xlcalc.xlam"]
    checked = RUN.invoke(app, ["host", "check", "excel", *folder])
    assert "ok       xlcalc.xlam holds the VBA modules xlcalc_functions" in checked.output
    assert r"missing  the Python exists: C:\p\python.exe" in checked.output
    assert RUN.invoke(app, ["host", "remove", "excel", *folder]).exit_code == 0
    assert list(tmp_path.iterdir()) == []


def test_missing_office_says_how_to_name_it(monkeypatch):
    monkeypatch.setattr(office_module, "_PLACES", ())
    monkeypatch.setattr(office_module.shutil, "which", lambda name: None)
    failed = RUN.invoke(app, ["host", "install", "libreoffice"])
    assert isinstance(failed.exception, InputError)
    assert str(failed.exception).startswith(
        "LibreOffice is missing; valid: installed, with soffice on the PATH"
    )
