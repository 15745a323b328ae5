"""The command that makes a workbook from a template, empty or with a site and a list of drives.

Exit codes: 0 done, 2 unusable arguments or file, or rows of the list that cannot be used (listed).
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.exceptions import Exit

from xlcalc.cli.terminal import DECIMAL, ENCODING, FILE, OVERWRITE, SHEET, UNUSABLE, err, out
from xlcalc.core import resources
from xlcalc.core.errors import InputError
from xlcalc.schema.kinds import one_of

if TYPE_CHECKING:
    from xlcalc.io.lists.schedule import Schedule
    from xlcalc.io.plants.site import DriveSite
    from xlcalc.workbooks.plant.plant_data import PlantData

ENDING = ".xlsx"
TEMPLATES: Mapping[str, str] = {
    "drive_study": "drives on one supply, judged at the point of common coupling",
    "plant_study": "a plant of buses in several operating cases, with equipment checks",
    "field_proof": "a recording beside the prediction, judged by percentiles",
    "front_end_comparison": "nine front ends for one drive, side by side, with prices",
    "choice_study": "the cheapest mix of reactors, filters and front ends that meets the limits",
}
"""What each template is for."""

SHOWN_TAGS = 6
SHAFT_UNITS = ("kW", "hp")
Row = Mapping[str, object]


@click.command("new")
@click.argument("template", metavar="TEMPLATE", required=False)
@click.argument("output", metavar="OUT.xlsx", type=FILE, required=False)
@click.option("--drives", type=FILE, help="List of drives to fill in, as for `schedule`.")
@click.option(
    "--site", type=FILE, help="Site to fill in, as for `schedule`; a plant of buses: .toml or a workbook."
)
@click.option("--tag", help="The one drive of the list to take, as front_end_comparison needs.")
@SHEET
@DECIMAL
@ENCODING
@OVERWRITE
def new(
    template: str | None,
    output: Path | None,
    drives: Path | None,
    site: Path | None,
    tag: str | None,
    sheet: str | None,
    decimal: str | None,
    encoding: str | None,
    overwrite: bool,
) -> None:
    """Make a workbook from the shipped template of that name; without a name, list the templates.

    With --drives and --site it is filled: drive_study with a site and any list of drives that `schedule`
    takes, plant_study and choice_study with a plant of buses, or a site as one, and such a list, and
    front_end_comparison with a site and one drive of a list (--tag).
    """
    if template is None:
        for name in resources.template_names():
            out.print(f"{name:22}{TEMPLATES.get(name, '')}")
        return
    source = resources.template(template)
    if output is None:
        raise InputError("OUT.xlsx", None, f"a name for the workbook: xlcalc new {source.stem} my.xlsx")
    from xlcalc.files.outputs import check_outputs

    if output.suffix.lower() != ENDING:
        raise InputError("OUT.xlsx", str(output), f"a name that ends in {ENDING}")
    if os.path.lexists(output) and not overwrite:
        raise InputError("OUT.xlsx", str(output), "a name that is free, or --overwrite")
    given = [path for path in (drives, site) if path is not None]
    check_outputs([output], [source, *given], overwrite=overwrite, option="OUT.xlsx")
    filled = ""
    if given:
        if drives is None or site is None:
            missing = "--drives" if drives is None else "--site"
            raise InputError(missing, None, "both a list of drives and a site, or neither")
        fill = FILLED.get(source.stem)
        if fill is None:
            raise InputError("TEMPLATE", source.stem, f"one of {', '.join(FILLED)} for a list of drives")

        def read(where: Any) -> Schedule:
            return _tagged(read_list(drives, where, sheet, decimal, encoding), tag)

        filled = fill(source, output, site, read)
    else:
        from xlcalc.files.writing import write_file

        write_file(output, [source.read_bytes()])
    todo = filled or "Fill in the input cells, then run"
    out.print(f"Wrote {output}{todo if filled else f'. {todo}'}: xlcalc recalc {output}")


Read = Callable[[Any], "Schedule"]


def drive_study(
    source: Path,
    output: Path,
    site_file: Path,
    read: Read,
    change: Callable[[tuple[Row, ...]], tuple[Row, ...]] = lambda rows: rows,
) -> str:
    """Fill the template of a drive study; `change` alters the rows of drives. Returns what to do next."""
    from xlcalc.io.plants.site import Site
    from xlcalc.io.plants.site_file import read_drive_site
    from xlcalc.workbooks.drive.fill import fill_template
    from xlcalc.workbooks.drive.study_data import StudyData

    site = read_drive_site(site_file)
    if not isinstance(site, Site):
        raise InputError("--site", str(site_file), "a chain of transformers; a plant of buses: plant_study")
    rows = change(_rows(read(site)))
    data = StudyData(_given(site.site), rows, site.study, _given(site.settings))
    fill_template(source, data, output)
    return _filled(rows)


def _plant_study(source: Path, output: Path, site_file: Path, read: Read) -> str:
    from xlcalc.workbooks.drive.drives_sheet import SPARE
    from xlcalc.workbooks.kit import package
    from xlcalc.workbooks.plant import plant_study

    data = _plant_data(site_file, read)
    package.save(plant_study.build(data, SPARE), output)
    return _filled(data.drives)


def _choice_study(source: Path, output: Path, site_file: Path, read: Read) -> str:
    """The plant with its cases; what can be bought and the general terms are the examples of the template."""
    from xlcalc.schema.inputs.terms import CASES, PCCS, TERMS
    from xlcalc.workbooks.choice import choice_study
    from xlcalc.workbooks.choice.choice_data import ChoiceData, option_rows, read_terms_rows
    from xlcalc.workbooks.kit import package

    data, demo = _plant_data(site_file, read), resources.folder("demo")
    starter = read_terms_rows(demo / "starter_choice.toml")
    demanded = [row["name"] for row in data.tables["buses"] if row.get("demand amps") is not None]
    judged = data.pccs or demanded or [row["bus"] for row in data.tables["utility"]]
    cases = [
        {"case": row.get("name"), **{k: v for k, v in row.items() if k not in ("name", "solution")}}
        for row in data.cases
    ]
    terms = {
        **dict.fromkeys(starter, ()),
        TERMS: starter[TERMS],
        PCCS: tuple({"bus": bus} for bus in judged),
        CASES: tuple(cases),
    }
    options = option_rows(demo / "mitigation_options.csv", demo / "mitigation_residuals.csv")
    package.save(choice_study.build(ChoiceData(data, options, terms)), output)
    out.print("Note: options, prices and tariff are the invented ones of the template; replace them")
    return _filled(data.drives)


def _comparison(source: Path, output: Path, site_file: Path, read: Read) -> str:
    """The one drive of the list on its bus; front ends, prices and terms are the examples of the template."""
    from xlcalc.io.plants.site import Site
    from xlcalc.io.plants.site_file import read_drive_site
    from xlcalc.schema.inputs.comparison import BLOCKS
    from xlcalc.schema.inputs.settings import STUDY
    from xlcalc.workbooks.comparison import comparison_study
    from xlcalc.workbooks.comparison.comparison_data import read_comparison
    from xlcalc.workbooks.kit import package

    site = read_drive_site(site_file)
    if not isinstance(site, Site):
        raise InputError("--site", str(site_file), "a chain of transformers, which names one supply")
    rows = _rows(read(site), found=("bus",))
    if len(rows) != 1:
        tags = ", ".join(str(row["tag"]) for row in rows[:SHOWN_TAGS])
        raise InputError("--drives", f"{len(rows)} drives ({tags})", "a list of one drive, or --tag TAG")
    row, starter = rows[0], read_comparison(resources.folder("demo") / "starter_comparison.toml")
    if row["unit"] not in SHAFT_UNITS:
        raise InputError(f"unit of {row['tag']}", str(row["unit"]), " or ".join(SHAFT_UNITS))
    least = site.site["utility min mva"]
    if least not in (None, site.site["utility mva"]):
        valid = "one level; a comparison has no second: give it the level to try as utility mva"
        raise InputError("utility min mva of the site", f"{least:g} MVA", valid)
    network, bus = site.network_in(site.settings), str(row["bus"])
    impedance, settings = network.short_circuit_impedance(bus), _given(site.settings)
    supply = {
        "nominal volts": network.volts(bus),
        "frequency hz": site.study.get("frequency hz", STUDY.field("frequency hz").default),
        **{name: site.site[name] for name in ("transformer kva", "transformer z pct")},
        "fault level mva": float(f"{network.short_circuit_va(bus) / 1e6:.6g}"),
        "source x/r": float(f"{impedance.imag / impedance.real:.4g}"),
    }
    own = {
        "study": {**site.study, "title": f"{row['tag']}: {site.study.get('title') or site.name}"},
        "supply": {**settings, **supply},
        "drive": {**settings, **row},
        "limit": {**starter.blocks["limit"], **settings},
        "cost": starter.blocks["cost"],
    }
    blocks = {
        name: {field.name: own[name][field.name] for field in fields if field.name in own[name]}
        for name, (_, fields) in BLOCKS.items()
    }
    package.save(comparison_study.build(replace(starter, blocks=blocks)), output)
    out.print("Note: front ends, prices and tariff are the invented ones of the template; replace them")
    return _filled(rows)


def _plant_data(site_file: Path, read: Read) -> PlantData:
    """A plant of buses with its drives; a chain of transformers becomes one."""
    from xlcalc.files.toml import read_toml
    from xlcalc.io.lists.files import WORKBOOK_SUFFIXES
    from xlcalc.io.plants.chain_plant import chain_content
    from xlcalc.io.plants.plant_book import plant_content
    from xlcalc.io.plants.plant_file import PlantSite, plant_from
    from xlcalc.io.plants.site_file import read_drive_site
    from xlcalc.workbooks.plant.plant_data import plant_data

    suffix, content, pccs = site_file.suffix.lower(), dict[str, Any](), tuple[str, ...]()
    if suffix == ".toml":
        content = read_toml(site_file)
    elif suffix in WORKBOOK_SUFFIXES:
        content, pccs = plant_content(site_file) or (content, pccs)
    where: DriveSite
    if isinstance(content.get("buses"), list):
        where = plant_from(site_file, content)
    else:
        where = read_drive_site(site_file)
        if isinstance(where, PlantSite):
            raise InputError("--site", str(site_file), "a plant of buses, or a chain of transformers")
        content, pccs = chain_content(where, _given(where.settings)), ()
    rows = _rows(read(where), found=("bus",))
    data = plant_data(content, rows, site_file.name, "--drives")
    first = tuple(str(row["name"]) for row in data.tables["buses"])[: len(pccs)]
    return replace(data, pccs=pccs if pccs != first else ())


FILLED: Mapping[str, Callable[[Path, Path, Path, Read], str]] = {
    "drive_study": drive_study,
    "plant_study": _plant_study,
    "choice_study": _choice_study,
    "front_end_comparison": _comparison,
}
"""Templates that take a list of drives."""


def read_list(
    drives: Path, site: Any, sheet: str | None, decimal: str | None, encoding: str | None
) -> Schedule:
    """The list on the site; a row that cannot be used ends the command, so that none is left out unseen."""
    from xlcalc.io.lists.numerals import Decimal
    from xlcalc.io.lists.problems import listed
    from xlcalc.io.lists.schedule import read_schedule

    sign = Decimal(decimal) if decimal else None
    schedule = read_schedule(drives, [site], sheet=sheet, decimal=sign, encoding=encoding)
    for remark in schedule.remarks:
        out.print(f"Note: {remark}")
    if schedule.problems:
        for line in listed(schedule.problems):
            err.print(line)
        rows = len({problem.row for problem in schedule.problems})
        err.print(f"{rows} of {len(schedule.rows)} rows cannot be used: no workbook was written.")
        raise Exit(UNUSABLE)
    return schedule


def _tagged(schedule: Schedule, tag: str | None) -> Schedule:
    """The list with one drive alone; as it is without a tag."""
    if tag is None:
        return schedule
    rows = schedule.rows[schedule.rows["tag"].astype(str).str.casefold() == tag.strip().casefold()]
    if rows.empty:
        raise InputError("--tag", tag, one_of([str(each) for each in schedule.rows["tag"]], tag))
    return replace(schedule, rows=rows)


def _rows(schedule: Schedule, found: Sequence[str] = ()) -> tuple[Row, ...]:
    """Rows as the table of a template takes them; what the list left blank stays blank but for `found`."""
    from xlcalc.io.lists.example_rows import ASSUMED, BLANK, EFFICIENCY
    from xlcalc.schema.inputs.drive import DRIVES

    names = ["description", *(field.name for field in DRIVES.fields)]
    rows = []
    for record in schedule.accepted.to_dict("records"):
        blank = {*str(record[BLANK]).split("|")} - {*found}
        if record[EFFICIENCY] == ASSUMED:
            blank.add("efficiency pct")
        defaults = {field.name: field.default for field in DRIVES.fields if not field.required}
        rows.append(
            {
                name: value
                for name in names
                if name not in blank
                and (value := record[name]) is not None
                and value == value
                and not (name.startswith("filter") and value == defaults[name])
            }
        )
    return tuple(rows)


def _given(values: Mapping[str, Any]) -> dict[str, object]:
    """Values that were typed."""
    blank: frozenset[str] = getattr(values, "blank", frozenset())
    return {name: value for name, value in values.items() if name not in blank and value is not None}


def _filled(rows: Sequence[Row]) -> str:
    return f" with {len(rows)} rows of drives. Check them, then run"
