"""Every command takes the same files: each sample of a kind is read by each command, with the same result.

The samples are the same three drives, options and terms, written as people and programs write them; what
they must give is written out by hand.
"""

from __future__ import annotations

import ast
import zipfile
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

import xlcalc
import xlcalc as xl
from xlcalc.cli import new
from xlcalc.core import resources
from xlcalc.io.choices.option_files import read_options
from xlcalc.io.choices.terms import read_terms
from xlcalc.io.lists.schedule import read_schedule
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.jobs.choice.assemble import read_drives
from xlcalc.jobs.sweep.sweep_job import SweepJob

PACKAGE = Path(xlcalc.__file__).parent
DEMO = resources.folder("demo")
HEADINGS = ("Tag", "Rated power (kW)", "Pulses", "Line reactor %", "Load %", "Bus", "Service")
DRIVES = (
    ("P-1", 75.5, 6, 3.0, 80.0, "main", "Kühlwasser"),
    ("P-2", 110.0, 18, 0.0, 100.0, "main", "Zulauf"),
    ("P-3", 30.0, 6, 5.0, 92.5, "main", "Lüfter"),
)
EXPECTED = [(tag, kw, pulses, reactor, load) for tag, kw, pulses, reactor, load, *_ in DRIVES]


def written(cell, decimal):
    return "" if cell is None else str(cell).replace(".", decimal)


def lines(delimiter=",", decimal="."):
    yield delimiter.join(HEADINGS)
    for row in DRIVES:
        yield delimiter.join(
            str(cell).replace(".", decimal) if isinstance(cell, float) else str(cell) for cell in row
        )


def text(encoding="utf-8", *, above=(), below=(), **how):
    def write(path):
        rows = [*above, *lines(**how), *below]
        path.write_bytes(("\r\n".join(rows) + "\r\n").encode(encoding))

    return write


def workbook(path):
    book = Workbook()
    book.active.title = "Cover"
    book.active.append(["Drive list, issued for tender"])
    sheet = book.create_sheet("List")
    sheet.append(["Motor list of the mill"])
    sheet.append([])
    sheet.append(list(HEADINGS))
    for row in DRIVES:
        sheet.append(list(row))
    sheet.append(["TOTAL", "=SUM(B4:B6)", None, None, None, None, None])
    sheet["B7"] = 215.5
    book.save(path)


def parquet(path):
    pytest.importorskip("pyarrow")
    pd.DataFrame(DRIVES, columns=list(HEADINGS)).to_parquet(path)


def open_document(path):
    """As LibreOffice writes it (OpenDocument 1.3): percent cells, repeated blank cells, a sheet before it."""

    def cell(value):
        if isinstance(value, str):
            return f'<table:table-cell office:value-type="string"><text:p>{value}</text:p></table:table-cell>'
        return f'<table:table-cell office:value-type="float" office:value="{value}"/>'

    def percent(value):
        return f'<table:table-cell office:value-type="percentage" office:value="{value / 100}"/>'

    blank = '<table:table-cell table:number-columns-repeated="16377"/>'
    rows = [(cell("Motor list of the mill"),), (), tuple(map(cell, HEADINGS))]
    rows += [(*map(cell, row[:4]), percent(row[4]), *map(cell, row[5:])) for row in DRIVES]
    body = "".join(f"<table:table-row>{''.join(row)}{blank}</table:table-row>" for row in rows)
    rest = f'<table:table-row table:number-rows-repeated="1048500">{blank}</table:table-row>'
    spaces = " ".join(
        f'xmlns:{name}="urn:oasis:names:tc:opendocument:xmlns:{name}:1.0"'
        for name in ("office", "table", "text")
    )
    sheets = (
        '<table:table table:name="Cover"/>' + f'<table:table table:name="List">{body}{rest}</table:table>'
    )
    content = (
        f"<office:document-content {spaces}><office:body><office:spreadsheet>{sheets}"
        "</office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", content.encode())


def units_below(path):
    rows = list(lines())
    rows.insert(1, ",kW,,%,%,,")
    path.write_text("\n".join(rows).replace("Rated power (kW)", "Rated power"), encoding="utf-8")


SCHEDULES = {
    "comma.csv": text(),
    "semicolon.csv": text("utf-8", delimiter=";", decimal=","),
    "windows.csv": text("cp1252", delimiter=";", decimal=","),
    "marked.csv": text("utf-8-sig"),
    "wide.txt": text("utf-16", delimiter="\t"),
    "tabs.tsv": text(delimiter="\t"),
    "bars.txt": text(delimiter="|"),
    "titled.csv": text(above=("Drive list of the mill,,,,,,", ",,,,,,"), below=("TOTAL,215.5,,,,,",)),
    "units.csv": units_below,
    "list.xlsx": workbook,
    "list.ods": open_document,
    "drives.parquet": parquet,
}


def rows_of(frame):
    names = ["tag", "rating", "pulses", "line reactor pct", "load pct"]
    return [tuple(row) for row in frame[names].itertuples(index=False)]


def by_schedule(path):
    return rows_of(read_schedule(path, [read_drive_site(DEMO / "site.toml")]).accepted)


def by_sweep(path):
    job = SweepJob(path, DEMO / "site.toml", spec_of(path))
    job.read()
    return rows_of(job.schedule.accepted)


def spec_of(path):
    spec = path.with_name("spec.toml")
    spec.write_text("""[sweep]
samples = 2
[site]
"utility mva" = { low = 90, high = 180 }
""")
    return spec


def by_choose(path):
    return rows_of(pd.DataFrame(read_drives(path, read_drive_site(DEMO / "site.toml"))))


def by_new(path):
    return rows_of(new.read_list(path, read_drive_site(DEMO / "site.toml"), None, None, None).accepted)


def by_python(path):
    found = xl.read_schedule(path).frame
    return rows_of(found)


READERS = {
    "schedule": by_schedule,
    "sweep": by_sweep,
    "choose": by_choose,
    "new": by_new,
    "python": by_python,
}


@pytest.mark.parametrize("sample", SCHEDULES)
def test_every_command_reads_every_schedule(tmp_path, sample):
    path = tmp_path / sample
    SCHEDULES[sample](path)
    for command, read in READERS.items():
        assert read(path) == EXPECTED, command


OPTION_HEADINGS = ("Option", "Kind", "Pulses", "Line reactor (%)", "Price a", "Price b", "Max kW", "Remark")
OPTION_ROWS = (
    ("none", "bridge", 6, None, 0, 0, None, "as it is"),
    ("reactor", "bridge", 6, 4.5, 120.5, 9, 400, "Würfel"),
)


def option_text(delimiter=",", decimal=".", encoding="utf-8", above=()):
    def write(path):
        cells = (
            "" if cell is None else str(cell).replace(".", decimal) for row in OPTION_ROWS for cell in row
        )
        flat = list(cells)
        width = len(OPTION_HEADINGS)
        rows = [OPTION_HEADINGS, *(flat[k : k + width] for k in range(0, len(flat), width))]
        path.write_bytes("\n".join((*above, *map(delimiter.join, rows))).encode(encoding))

    return write


def option_book(path):
    book = Workbook()
    book.active.title = "Options"
    book.active.append(["Options of the tender"])
    book.active.append(list(OPTION_HEADINGS))
    for row in OPTION_ROWS:
        book.active.append(list(row))
    book.save(path)


def option_parquet(path):
    pytest.importorskip("pyarrow")
    pd.DataFrame(OPTION_ROWS, columns=list(OPTION_HEADINGS)).to_parquet(path)


OPTIONS = {
    "comma.csv": option_text(),
    "semicolon.csv": option_text(";", ","),
    "windows.csv": option_text(";", ",", "cp1252"),
    "marked.csv": option_text(encoding="utf-8-sig"),
    "tabs.tsv": option_text("\t"),
    "titled.csv": option_text(above=("Options of the tender,,,,,,,",)),
    "options.xlsx": option_book,
    "options.parquet": option_parquet,
}


@pytest.mark.parametrize("sample", OPTIONS)
def test_every_file_of_options_gives_the_same(tmp_path, sample):
    path = tmp_path / sample
    OPTIONS[sample](path)
    plain, reactor = read_options(path).drive_options
    assert (plain.name, plain.price.at(100.0)) == ("none", 0.0)
    assert (reactor.name, reactor.physics.reactor_pct, reactor.max_kw) == ("reactor", 4.5, 400.0)
    assert reactor.price.at(100.0) == 120.5 + 9 * 100
    assert reactor.remark == "Würfel"


def test_options_and_terms_of_the_template_are_files_too():
    """The workbook against the files that it is built from."""
    book = resources.template("choice_study")
    shipped, of_book = read_options(), read_options(book)
    assert [option.name for option in of_book.drive_options] == [o.name for o in shipped.drive_options]
    assert [option.price for option in of_book.drive_options] == [o.price for o in shipped.drive_options]
    assert of_book.banks == shipped.banks
    starter, terms = read_terms(DEMO / "starter_choice.toml"), read_terms(book)
    assert (terms.economics, terms.pcc, terms.margin_pct) == (
        starter.economics,
        starter.pcc,
        starter.margin_pct,
    )


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig"])
@pytest.mark.parametrize("name", ["site.toml", "plant.toml"])
def test_sites_and_plants_may_have_a_mark(tmp_path, name, encoding):
    path = tmp_path / name
    path.write_text((DEMO / name).read_text(encoding="utf-8"), encoding=encoding)
    assert read_drive_site(path).all_volts == read_drive_site(DEMO / name).all_volts


ONE_DOOR = {
    "read_csv_table": {"io/lists/files.py"},
    "read_xlsx_tables": {"io/lists/files.py", "io/plants/site_file.py", "jobs/choice/plant_files.py"},
}


@pytest.mark.parametrize("reader", ONE_DOOR)
def test_tables_are_read_by_one_function(reader):
    """A file of a user is not opened by another way than the others of its kind."""
    users = set()
    rooms = ("io/lists", "io/plants", "io/results", "jobs", "face", "cli")
    for path in (PACKAGE / folder for folder in rooms):
        for module in path.rglob("*.py"):
            tree = ast.parse(module.read_text(encoding="utf-8"))
            calls = (node.func for node in ast.walk(tree) if isinstance(node, ast.Call))
            if any(isinstance(function, ast.Name) and function.id == reader for function in calls):
                users.add(module.relative_to(PACKAGE).as_posix())
    assert users == ONE_DOOR[reader]
