"""The demo workbooks: the templates filled with an invented site and an invented plant."""

from __future__ import annotations

from pathlib import Path

from xlcalc import resources
from xlcalc.workbooks.drive.drives_sheet import SPARE
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData, read_study
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.plant import plant_study
from xlcalc.workbooks.plant.plant_data import PlantData, read_plant


def demo_study() -> StudyData:
    """Inputs of the invented site."""
    folder = resources.folder("demo")
    return read_study(folder / "site.toml", folder / "drives.csv")


def build_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    fill_template(resources.template("drive_study"), demo_study(), target)


def demo_plant() -> PlantData:
    """Inputs of the invented plant."""
    folder = resources.folder("demo")
    return read_plant(folder / "plant.toml", folder / "plant_drives.csv")


def build_plant_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    package.save(plant_study.build(demo_plant(), SPARE), target)
