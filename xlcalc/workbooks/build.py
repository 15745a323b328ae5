"""Building all templates into a folder, with values in every formula."""

from __future__ import annotations

import tempfile
from pathlib import Path

from openpyxl import Workbook

from xlcalc import __version__
from xlcalc.core import resources
from xlcalc.recalc.evaluation.certified import ordinary_functions
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import Issue
from xlcalc.workbooks.choice import choice_study
from xlcalc.workbooks.choice.choice_data import ChoiceData, option_rows, read_terms_rows
from xlcalc.workbooks.comparison import comparison_study
from xlcalc.workbooks.comparison.comparison_data import read_comparison
from xlcalc.workbooks.drive import drive_study
from xlcalc.workbooks.drive.drives_sheet import SPARE
from xlcalc.workbooks.drive.fill import fill_template
from xlcalc.workbooks.drive.study_data import StudyData, read_study
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.plant import plant_study
from xlcalc.workbooks.plant.plant_data import PlantData, read_plant
from xlcalc.workbooks.proof import proof_study
from xlcalc.workbooks.proof.proof_example import example
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.reference import markdown

FUNCTION_PAGE = "FUNCTIONS.md"


def build_all(folder: Path) -> tuple[Path, ...]:
    """Build every template and the page of functions; one source gives the same bytes on one machine.

    Raises
    ------
    RuntimeError
        A formula of a template has no value; the message lists the cells.
    """
    starter = resources.folder("demo")
    drives = drive_study.build(read_study(starter / "starter_site.toml", starter / "starter_drives.csv"))
    plant_data = read_plant(starter / "starter_plant.toml", starter / "starter_plant_drives.csv")
    plant = plant_study.build(plant_data)
    choice = choice_study.build(
        ChoiceData(
            plant_data,
            option_rows(starter / "mitigation_options.csv", starter / "mitigation_residuals.csv"),
            read_terms_rows(starter / "starter_choice.toml"),
        )
    )
    comparison = comparison_study.build(read_comparison(starter / "starter_comparison.toml"))
    paths = (
        _with_values(drives, folder / drive_study.FILE_NAME),
        _with_values(plant, folder / plant_study.FILE_NAME),
        _with_values(comparison, folder / comparison_study.FILE_NAME),
        _with_values(choice, folder / choice_study.FILE_NAME),
        _with_values(proof_study.build(example()), folder / proof_study.FILE_NAME),
    )
    page = folder / FUNCTION_PAGE
    page.write_text(f"{markdown(FUNCTIONS)}\n{ordinary_functions()}", encoding="utf-8")
    return (*paths, page)


def _with_values(book: Workbook, path: Path) -> Path:
    """Write the calculated template."""
    with tempfile.TemporaryDirectory() as scratch:
        raw = Path(scratch) / path.name
        package.save(book, raw)
        report = recalculate(
            raw, None, FUNCTIONS, stamp=f"xlcalc {__version__} template", now=package.TEMPLATE_DATE
        )
        if report.issues:
            raise RuntimeError("\n".join(map(_line, report.issues)))
        path.write_bytes(package.settled(raw.read_bytes()))
    return path


def _line(issue: Issue) -> str:
    return f"{issue.sheet}!{issue.cell}: {issue.outcome} {issue.reason}"


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
