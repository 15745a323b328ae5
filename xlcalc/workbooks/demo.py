"""The demo workbook: the template filled with the invented site."""

from __future__ import annotations

from pathlib import Path

from xlcalc import resources
from xlcalc.workbooks.fill import fill_template
from xlcalc.workbooks.study_data import StudyData, read_study


def demo_study() -> StudyData:
    """Inputs of the invented site."""
    folder = resources.folder("demo")
    return read_study(folder / "site.toml", folder / "drives.csv")


def build_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    fill_template(resources.template("drive_study"), demo_study(), target)
