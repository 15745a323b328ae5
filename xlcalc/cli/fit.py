"""The command that finds unknown inputs of a study from records, and puts them back into it.

Exit codes: 0 done, 2 unusable arguments or file.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from xlcalc.cli.terminal import FILE, OVERWRITE, out
from xlcalc.core.caution import CAUTION
from xlcalc.core.errors import InputError

if TYPE_CHECKING:
    from xlcalc.face.drive import Supply
    from xlcalc.face.fit import Fit, FoundInputs
    from xlcalc.face.plant import Plant

LEAST_LEVEL_PCT = 0.05
"""Distortion below it goes into a study as none: so little is taken there for a slip of the unit."""


@click.command("fit")
@click.argument("record", metavar="RECORD...", nargs=-1, required=True, type=FILE)
@click.option(
    "--study", "book", required=True, type=FILE, help="Workbook made from drive_study or plant_study."
)
@click.option(
    "--drive",
    "tags",
    required=True,
    multiple=True,
    help="Tag of the drive at whose terminals was recorded; again for each recorded together with it.",
)
@click.option("--case", help="Case of the study, where it has several.")
@click.option("--map", "record_map", type=FILE, help="What the channels are: .toml.")
@click.option(
    "--free",
    default="mva,background,unbalance,load_pct,dc_capacitance_pu",
    help="Inputs to find, with commas; also xr, line_reactor_pct, dc_choke_pct, background 17.",
)
@click.option("--hz", type=click.FloatRange(1, 1000), help="Frequency, where known; tracked if left out.")
@click.option("-o", "--output", type=FILE, help="The study with the fitted values, recalculated: .xlsx.")
@OVERWRITE
def fit_command(
    record: tuple[Path, ...],
    book: Path,
    tags: tuple[str, ...],
    case: str | None,
    record_map: Path | None,
    free: str,
    hz: float | None,
    output: Path | None,
    overwrite: bool,
) -> None:
    """Find unknown inputs of a study from records of voltage and current at a drive, or at several on a bus.

    Each RECORD is one operating point: COMTRADE or a table of waveforms, three phases. The study says what
    the drives and their supply are believed to be. With -o the fitted values go into a copy of the study (a
    workbook made from drive_study), which is recalculated.
    """
    from xlcalc.face.fit import fit
    from xlcalc.face.fit_bus import fit_bus
    from xlcalc.face.plant import read_plant, read_schedule
    from xlcalc.face.record import read_record
    from xlcalc.face.studied_drive import drive_of_study, drives_of_study
    from xlcalc.files.outputs import check_outputs

    if output is not None:
        if len(tags) > 1:
            valid = "one --drive; what several say of their bus is typed where it belongs"
            raise InputError("-o", str(output), valid, wrong_kind=True)
        if output.suffix.lower() != ".xlsx":
            raise InputError("-o", str(output), "a name that ends in .xlsx")
        check_outputs([output], [book, *record], overwrite=overwrite)
    plant, drives = read_plant(book), read_schedule(book)
    records = [read_record(path, record_map, hz=hz) for path in record]
    for one in records:
        for finding in one.findings:
            out.print(f"note: {one.name}: {finding}")
    names = [name.strip() for name in free.split(",") if name.strip()]
    if len(tags) > 1:
        together, supply, settings = drives_of_study(plant, drives, tags, case=case)
        _print(fit_bus(records, together, supply, names, settings=settings))
    else:
        drive, supply, settings = drive_of_study(plant, drives, tags[0], case=case)
        found = fit(records, drive, supply, names, settings=settings)
        _print(found)
        if output is not None:
            _write(found, plant, supply, book, output, tags[0], names)
    out.print(CAUTION)


def _print(found: FoundInputs) -> None:
    out.print(f"{'input':24s}{'value':>12s}{'std. error':>12s}   95 % interval")
    for name, row in found.intervals.iterrows():
        interval = f"{row['from']:.5g} to {row['to']:.5g}"
        out.print(f"{name!s:24s}{row['value']:12.5g}{row['standard error']:12.2g}   {interval}")
    for sentence in (*found.indistinguishable, *found.remarks):
        out.print(f"note: {sentence}")
    worst = found.residuals.sort_values("difference %", ascending=False).head(3)
    for _, row in worst.iterrows():
        out.print(
            f"largest residual: {row['quantity']}, order {row['order']}, {row['sequence']} sequence: "
            f"{row['difference %']:.3g} % of the fundamental"
        )


def _write(
    found: Fit, plant: Plant, supply: Supply, book: Path, output: Path, tag: str, free: list[str]
) -> None:
    from xlcalc.face.studied_drive import utility_share
    from xlcalc.io.plants.site import Site
    from xlcalc.recalc.recalc import recalculate
    from xlcalc.workbooks.drive.fill import put_values
    from xlcalc.worksheet.catalogue import FUNCTIONS

    site = plant.site
    if not isinstance(site, Site):
        what = "a plant of buses, whose other loads are part of what was measured"
        raise InputError(
            "-o", what, "a workbook made from drive_study; type the values above where they belong"
        )
    values: dict[str, Any] = dict(found.values)
    utility: dict[str, object] = {}
    if "mva" in free:
        bus = next(iter(site.bus_volts)) if found.drive.bus is None else found.drive.bus
        share = utility_share(plant, bus, found.supply.mva / supply.mva, site.settings)
        utility["utility mva"] = float(f"{share * site.site['utility mva']:.6g}")
    settings = {
        name: _typed(name, value)
        for name, value in values.items()
        if name.startswith(("background ", "unbalance "))
    }
    if "dc_capacitance_pu" in free:
        settings["dc capacitance pu"] = float(f"{values['dc_capacitance_pu']:.6g}")
    drive = {
        name.replace("_", " "): float(f"{getattr(found.drive, name):.6g}")
        for name in ("load_pct", "line_reactor_pct", "dc_choke_pct")
        if name in free or name == "load_pct"
    }
    out.print("note: the distortion was found at the drive: what other drives added to it is part of it")
    if "dc capacitance pu" in settings:
        out.print("note: the capacitance is a setting of the study: it holds for all of its drives")
    with tempfile.TemporaryDirectory() as scratch:
        filled = Path(scratch, output.name)
        left = put_values(book, filled, site=utility, settings=settings, tag=tag, drive=drive)
        report = recalculate(filled, output, FUNCTIONS)
    for name in left:
        out.print(f"note: the sheets do not offer {name}, which was left out")
    for line in report.lines():
        out.print(line)
    out.print(str(output))


def _typed(name: str, value: float) -> float:
    """As a cell takes it: a level too small to matter is none."""
    small = name.endswith(" pct") and value < LEAST_LEVEL_PCT
    return 0.0 if small else float(f"{value:.6g}")
