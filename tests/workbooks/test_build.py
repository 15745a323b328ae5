"""The checked-in template is what the code builds."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import pytest

from xlcalc.workbooks.build import build_all

VALUE = re.compile(rb'(<c r="[A-Z]+\d+"[^>]*?)( t="\w+")?>(<f[ >].*?</f>|<f/>)?<v>(.*?)</v></c>', re.DOTALL)


@pytest.fixture(scope="module")
def rebuilt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path, _ = build_all(tmp_path_factory.mktemp("build"))
    return path


def test_two_builds_are_the_same_bytes(rebuilt: Path, tmp_path: Path) -> None:
    again, _ = build_all(tmp_path)
    assert again.read_bytes() == rebuilt.read_bytes()


def test_checked_in_template_is_what_the_code_builds(rebuilt: Path, template: Path) -> None:
    """Rebuild with ``python -m xlcalc.workbooks`` where this fails after a wanted change."""
    with zipfile.ZipFile(rebuilt) as new, zipfile.ZipFile(template) as old:
        assert new.namelist() == old.namelist()
        for name in new.namelist():
            if name.startswith("xl/worksheets/sheet"):
                assert VALUE.sub(rb"\1\3", new.read(name)) == VALUE.sub(rb"\1\3", old.read(name)), name
                assert _numbers(new.read(name)) == pytest.approx(_numbers(old.read(name)), rel=1e-6, abs=1e-6)
            else:
                assert new.read(name) == old.read(name), name


def test_no_member_tells_when_or_where_it_was_built(template: Path) -> None:
    with zipfile.ZipFile(template) as archive:
        assert {info.date_time for info in archive.infolist()} == {(2026, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml")
    assert core.count(b"2026-01-01T00:00:00Z") == 2


def _numbers(sheet: bytes) -> list[float]:
    """Cached values; a number is a number, a text counts by its length."""
    values = [match[4].decode() for match in VALUE.finditer(sheet)]
    return [float(v) if re.fullmatch(r"-?\d+(\.\d+)?([eE][+-]?\d+)?", v) else float(len(v)) for v in values]
