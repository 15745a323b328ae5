"""The checked-in template is what the code builds."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from xlcalc.core import resources
from xlcalc.workbooks.build import build_template

TEMPLATES = resources.template_names()
VALUE = re.compile(rb'(<c r="[A-Z]+\d+"[^>]*?)( t="\w+")?>(<f[ >].*?</f>|<f/>)?<v>(.*?)</v></c>', re.DOTALL)


@pytest.fixture(scope="session")
def built(shared: Any) -> Callable[[str], Path]:
    """A template that is built once in a run."""

    def make(name: str) -> Path:
        folder, _ = shared.made(f"built {name}", lambda folder: build_template(name, folder) and None)
        return Path(folder / name)

    return make


@pytest.mark.parametrize("name", ["drive_study", "field_proof"])
def test_two_builds_are_the_same_bytes(built: Callable[[str], Path], name: str, tmp_path: Path) -> None:
    again = build_template(f"{name}.xlsx", tmp_path)
    assert again.read_bytes() == built(again.name).read_bytes()


@pytest.mark.parametrize("name", TEMPLATES)
def test_checked_in_template_is_what_the_code_builds(built: Callable[[str], Path], name: str) -> None:
    """Rebuild with ``python -m xlcalc.workbooks`` where this fails after a wanted change."""
    template = resources.template(name)
    with zipfile.ZipFile(built(template.name)) as new, zipfile.ZipFile(template) as old:
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
