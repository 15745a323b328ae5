"""The notebook of the demo, run cell by cell."""

from __future__ import annotations

import json
from pathlib import Path
from types import SimpleNamespace

import pytest

NOTEBOOK = Path(__file__).parents[2] / "demo" / "study.ipynb"


@pytest.fixture(scope="module")
def after() -> SimpleNamespace:
    """What its cells leave behind."""
    pytest.importorskip("matplotlib", reason="matplotlib is not installed")
    names: dict[str, object] = {}
    for cell in json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]:
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), "cell", "exec"), names)
    return SimpleNamespace(**names)


def test_a_reactor_lowers_the_distortion(after: SimpleNamespace) -> None:
    assert after.with_reactor.thd_pct < 0.5 * after.bare.thd_pct


def test_the_plant_is_judged(after: SimpleNamespace) -> None:
    assert after.found.verdict == "PASS"
    assert list(after.found.drives()["tag"]) == ["P-101", "P-102", "P-103"]
