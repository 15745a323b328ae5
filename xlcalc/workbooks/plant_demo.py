"""The demo of the plant template: the same sheets with an invented plant."""

from __future__ import annotations

from pathlib import Path

from xlcalc import resources
from xlcalc.workbooks import package, plant_study
from xlcalc.workbooks.plant_data import PlantData, read_plant


def demo_plant() -> PlantData:
    """Inputs of the invented plant."""
    folder = resources.folder("demo")
    return read_plant(folder / "plant.toml", folder / "plant_drives.csv")


def build_plant_demo(target: Path) -> None:
    """Write the filled workbook; its formulas hold no values until it is recalculated."""
    package.save(plant_study.build(demo_plant()), target)
