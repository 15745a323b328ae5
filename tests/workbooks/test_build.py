"""The checked-in template is what the code builds."""

from __future__ import annotations

import os
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from xlcalc.core import resources
from xlcalc.workbooks import build
from xlcalc.workbooks.build import build_all

TEMPLATES = resources.template_names()
SMALL = {"drive_study", "field_proof"}
VALUE = re.compile(rb'(<c r="[A-Z]+\d+"[^>]*?)( t="\w+")?>(<f[ >].*?</f>|<f/>)?<v>(.*?)</v></c>', re.DOTALL)


@pytest.fixture(scope="module")
def rebuilt(shared: Any) -> Path:
    folder, _ = shared.made("all templates", build_all)
    return Path(folder)


def test_two_builds_are_the_same_bytes(
    rebuilt: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XLCALC_BUILDS=all builds every template twice, not only the two small ones: all are written alike."""
    assert {path.stem for path in rebuilt.glob("*.xlsx")} == set(TEMPLATES)
    with_values = build._with_values

    def small(book: Workbook, path: Path) -> Path:
        return with_values(book, path) if path.stem in SMALL else rebuilt / path.name

    if os.environ.get("XLCALC_BUILDS") != "all":
        monkeypatch.setattr(build, "_with_values", small)
    written = build_all(tmp_path)
    assert {path.stem for path in written if path.suffix == ".xlsx"} == set(TEMPLATES)
    assert {path.stem for path in tmp_path.glob("*.xlsx")} >= SMALL
    for again in written:
        assert again.read_bytes() == (rebuilt / again.name).read_bytes(), again.name


@pytest.mark.parametrize("name", TEMPLATES)
def test_checked_in_template_is_what_the_code_builds(rebuilt: Path, name: str) -> None:
    """Rebuild with ``python -m xlcalc.workbooks`` where this fails after a wanted change."""
    template = resources.template(name)
    with zipfile.ZipFile(rebuilt / template.name) as new, zipfile.ZipFile(template) as old:
        assert new.namelist() == old.namelist()
        for part in new.namelist():
            if part.startswith("xl/worksheets/sheet"):
                assert VALUE.sub(rb"\1\3", new.read(part)) == VALUE.sub(rb"\1\3", old.read(part)), part
                assert _numbers(new.read(part)) == pytest.approx(_numbers(old.read(part)), rel=1e-6, abs=1e-6)
            else:
                assert new.read(part) == old.read(part), part


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_member_tells_when_or_where_it_was_built(name: str) -> None:
    with zipfile.ZipFile(resources.template(name)) as archive:
        assert {info.date_time for info in archive.infolist()} == {(2026, 1, 1, 0, 0, 0)}
        core = archive.read("docProps/core.xml")
    assert core.count(b"2026-01-01T00:00:00Z") == 2


def _numbers(sheet: bytes) -> list[float]:
    """Cached values; a number is a number, a text counts by its length."""
    values = [match[4].decode() for match in VALUE.finditer(sheet)]
    return [float(v) if re.fullmatch(r"-?\d+(\.\d+)?([eE][+-]?\d+)?", v) else float(len(v)) for v in values]
