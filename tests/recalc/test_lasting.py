"""Results of our functions last in Excel where these are missing: settings, links, values in their place."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner
from lxml import etree

from xlcalc.cli.app import app
from xlcalc.core.errors import InputError
from xlcalc.recalc.delivery.settings import kept_on_opening
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

RUN = CliRunner()
WORKBOOK = "xl/workbook.xml"
PATH = "file:///C:\\Users\\anna\\AppData\\Roaming\\Microsoft\\AddIns\\xlcalc.xlam"
LINK = f"""<?xml version="1.0"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/externalLinkPath"
 Target="{PATH}" TargetMode="External"/></Relationships>"""
EXTERNAL = """<externalLink xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"
 xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">
<externalBook r:id="rId1"/></externalLink>"""


def parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def with_parts(path: Path, changed: dict[str, bytes]) -> Path:
    held = parts(path) | changed
    with zipfile.ZipFile(path, "w") as archive:
        for name, data in held.items():
            archive.writestr(name, data)
    return path


@pytest.fixture
def book(tmp_path) -> Path:
    """A study as somebody writes it with a library: the settings ask for a calculation on opening."""
    made = openpyxl.Workbook()
    sheet = made.active
    for cell, value in {"A1": 1000, "A2": "=HD_SC_AMPS(A1,69)", "A3": "=ROUND(A2,0)"}.items():
        sheet[cell] = value
    sheet["C1"] = openpyxl.worksheet.formula.ArrayFormula("C1:D3", "=HD_IDEAL_SPECTRUM(6)")
    sheet["A4"] = '=IF(FALSE,HD_VERSION(),"off")'
    made.save(tmp_path / "book.xlsx")
    return tmp_path / "book.xlsx"


def settings(path: Path) -> dict[str, str]:
    element = etree.fromstring(parts(path)[WORKBOOK]).find("{*}calcPr")
    return {} if element is None else dict(element.attrib)


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('<calcPr calcId="124519" fullCalcOnLoad="1"/>', '<calcPr calcId="191029"/>'),
        ("<calcPr calcId='191029' fullCalcOnLoad='true' />", "<calcPr calcId='191029' />"),
        (
            '<calcPr iterateCount="100" refMode="A1"/>',
            '<calcPr iterateCount="100" refMode="A1" calcId="191029"/>',
        ),
        ('<calcPr calcId="191029" forceFullCalc="1"/>', '<calcPr calcId="191029"/>'),
        ('<calcPr calcId="191029" calcCompleted="0"/>', '<calcPr calcId="191029"/>'),
        ('<calcPr calcId="191029" fullCalcOnLoad="0" calcCompleted="1"/>', None),
        ('<calcPr calcId="200000" calcMode="manual"/>', None),
        ("", '<calcPr calcId="191029"/>'),
    ],
)
@pytest.mark.parametrize("names", ["", "<definedNames><definedName name='a'>1</definedName></definedNames>"])
def test_settings(before, after, names):
    """Its place is after sheets, functionGroups, externalReferences and definedNames (CT_Workbook)."""
    whole = f"<workbook><sheets><sheet name='calcPr'/></sheets>{names}%s<oleSize ref='A1'/></workbook>"
    expected = whole % (before if after is None else after)
    assert kept_on_opening((whole % before).encode()).decode() == expected
    prefixed = re.sub(r"<(/?)(\w)", r"<\1x:\2", whole % before).encode()
    assert kept_on_opening(prefixed).decode() == re.sub(r"<(/?)(\w)", r"<\1x:\2", expected)


@pytest.mark.parametrize("writer", ["library", "without number", "without element"])
def test_workbook_with_our_calls_is_not_computed_on_opening(book, writer):
    held = parts(book)[WORKBOOK]
    if writer != "library":
        new = b'<calcPr iterate="0"/>' if writer == "without number" else b""
        held, count = re.subn(rb"<calcPr[^>]*>", new, held)
        assert count == 1
        with_parts(book, {WORKBOOK: held})
    report = recalculate(book, None, FUNCTIONS)
    assert settings(book).get("calcId") == "191029"
    assert "fullCalcOnLoad" not in settings(book)
    assert any("on opening" in note for note in report.notes)
    before = parts(book)
    assert recalculate(book, None, FUNCTIONS).notes == ()
    assert parts(book) == before


@pytest.mark.parametrize("formula", ["=SUM(1,2)", '="HD_THD(A1)"', "=NOW()"])
def test_workbook_without_our_calls_keeps_every_byte(tmp_path, formula):
    made = openpyxl.Workbook()
    made.active["A1"] = formula
    made.save(tmp_path / "book.xlsx")
    before = parts(tmp_path / "book.xlsx")
    report = recalculate(tmp_path / "book.xlsx", tmp_path / "out.xlsx", FUNCTIONS)
    after = parts(tmp_path / "out.xlsx")
    assert report.notes == ()
    assert list(after) == list(before)
    assert [name for name in before if before[name] != after[name]] == ["xl/worksheets/sheet1.xml"]


def test_call_that_is_refused_or_not_reached_counts_too(tmp_path):
    made = openpyxl.Workbook()
    made.active["A1"] = "=NOSUCHFUNCTION(HD_VERSION())"
    made.save(tmp_path / "book.xlsx")
    assert recalculate(tmp_path / "book.xlsx", None, FUNCTIONS).notes
    assert settings(tmp_path / "book.xlsx")["calcId"] == "191029"


def test_volatile_formula_is_told(book):
    made = openpyxl.load_workbook(book)
    made.active["A5"] = "=YEAR(TODAY())"
    made.save(book)
    assert any("TODAY" in note for note in recalculate(book, None, FUNCTIONS).notes)


def with_link(book: Path, formulas: dict[str, str], *, others: int = 0, named: str = "") -> Path:
    """A workbook saved with the add-in: formulas name it by the number of an external link."""
    made = openpyxl.load_workbook(book)
    for cell, formula in formulas.items():
        made.active[cell] = formula
    made.save(book)
    held = parts(book)
    number = others + 1
    listed = "".join(f'<externalReference r:id="rId9{n}"/>' for n in range(1, number + 1))
    names = f'<definedNames><definedName name="amps">{named}</definedName></definedNames>' if named else ""
    workbook = held[WORKBOOK].decode()
    workbook = re.sub(r"<definedNames ?/>", "", workbook)
    workbook = workbook.replace(
        "</sheets>", f"</sheets><externalReferences>{listed}</externalReferences>{names}"
    )
    namespace = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    workbook = workbook.replace("<externalReferences>", f'<externalReferences xmlns:r="{namespace}">')
    types = held["[Content_Types].xml"].decode()
    rels = held["xl/_rels/workbook.xml.rels"].decode()
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.externalLink+xml"
    new = {}
    for n in range(1, number + 1):
        link = LINK if n == number else LINK.replace("xlcalc.xlam", "prices.xlsx")
        new |= {
            f"xl/externalLinks/externalLink{n}.xml": EXTERNAL.encode(),
            f"xl/externalLinks/_rels/externalLink{n}.xml.rels": link.encode(),
        }
        part = f"externalLinks/externalLink{n}.xml"
        types = types.replace("</Types>", f'<Override PartName="/xl/{part}" ContentType="{kind}"/></Types>')
        rels = rels.replace(
            "</Relationships>",
            f'<Relationship Id="rId9{n}" Target="{part}" Type="http://schemas.openxmlformats.org/officeDocument'
            '/2006/relationships/externalLink"/></Relationships>',
        )
    new |= {
        WORKBOOK: workbook.encode(),
        "[Content_Types].xml": types.encode(),
        "xl/_rels/workbook.xml.rels": rels.encode(),
    }
    return with_parts(book, new)


def formulas_of(path: Path) -> dict[str, object]:
    sheet = openpyxl.load_workbook(path, keep_links=False).active
    return {cell.coordinate: cell.value for row in sheet for cell in row if cell.data_type == "f"}


def test_link_to_the_add_in_is_written_plainly_and_taken_out(book):
    with_link(book, {"A2": "=[1]!HD_SC_AMPS(A1,69)+0*[1]!hd_sc_amps(A1,69)", "A5": '="[1]!HD_THD("&A1'})
    report = recalculate(book, None, FUNCTIONS)
    assert formulas_of(book)["A2"] == "=HD_SC_AMPS(A1,69)+0*hd_sc_amps(A1,69)"
    assert formulas_of(book)["A5"] == '="[1]!HD_THD("&A1'
    held = parts(book)
    # a text may name the number, so the link keeps its place; nothing names a path
    assert b"anna" not in b"".join(held.values())
    assert any("path on one PC" in note for note in report.notes)
    assert recalculate(book, None, FUNCTIONS).notes == ()
    assert parts(book) == held


def test_only_link_goes_with_all_that_lists_it(book):
    with_link(book, {"A2": "=[1]!HD_SC_AMPS(A1,69)"}, named="[1]!HD_SC_AMPS(1000,69)")
    recalculate(book, None, FUNCTIONS)
    held = parts(book)
    assert not [name for name in held if "externalLink" in name]
    assert (
        b"external" not in held[WORKBOOK] + held["[Content_Types].xml"] + held["xl/_rels/workbook.xml.rels"]
    )
    assert b">HD_SC_AMPS(1000,69)</definedName>" in held[WORKBOOK]
    assert openpyxl.load_workbook(book, data_only=True).active["A2"].value == pytest.approx(8367.4, rel=1e-5)


def test_other_links_keep_their_numbers(book):
    with_link(book, {"A2": "=[3]!HD_SC_AMPS(A1,69)", "A5": "=[1]Sheet1!A1"}, others=2)
    recalculate(book, None, FUNCTIONS)
    held = parts(book)
    assert held[WORKBOOK].count(b"<externalReference ") == 2
    assert sum(b"prices.xlsx" in data for data in held.values()) == 2
    assert not any(b"xlcalc.xlam" in data for data in held.values())
    assert formulas_of(book)["A5"] == "=[1]Sheet1!A1"


@pytest.mark.parametrize(
    ("file", "formula", "left"),
    [
        ("xlcalc (2).xlam", "=[1]!HD_SC_AMPS(A1,69)", set()),
        ("other.xlam", "=[1]!HD_SC_AMPS(A1,69)", set()),
        ("other.xlam", "=[1]!OTHER(A1)", {b"anna", b"other.xlam"}),
        ("other.xlam", "=[1]!HD_SC_AMPS(A1,69)+[1]!OTHER(A1)", {b"anna", b"other.xlam"}),
        ("prices.xlsx", "=[1]!HD_SC_AMPS(A1,69)", {b"anna", b"prices.xlsx"}),
    ],
)
def test_add_in_under_another_name(book, file, formula, left):
    """A link is ours where formulas call our functions through it; what calls others through it stays."""
    with_link(book, {"A5": formula})
    part = "xl/externalLinks/_rels/externalLink1.xml.rels"
    with_parts(book, {part: parts(book)[part].replace(b"xlcalc.xlam", file.encode())})
    recalculate(book, None, FUNCTIONS)
    held = b"".join(parts(book).values())
    assert {word for word in (b"anna", file.encode()) if word in held} == left
    calls = formulas_of(book)["A5"]
    assert ("[1]!HD_" in calls) == (file == "prices.xlsx")
    assert ("OTHER(" in calls) == ("[1]!OTHER(" in calls)


def test_quoted_path_of_the_add_in_is_taken_out_of_formulas(book):
    made = openpyxl.load_workbook(book)
    made.active["A2"] = "='C:\\Users\\anna\\xlcalc.xlam'!HD_SC_AMPS(A1,69)"
    made.save(book)
    recalculate(book, None, FUNCTIONS)
    assert formulas_of(book)["A2"] == "=HD_SC_AMPS(A1,69)"


def test_values_in_place_of_our_calls(book, tmp_path):
    target = tmp_path / "out.xlsx"
    done = RUN.invoke(app, ["recalc", str(book), "--values", "-o", str(target)])
    assert done.exit_code == 0, done.output
    assert "3 cells with calls of our functions" in done.output.replace("\n", " ")
    left = formulas_of(target)
    assert left == {"A3": "=ROUND(A2,0)"}
    expected = tmp_path / "with_formulas.xlsx"
    recalculate(book, expected, FUNCTIONS)
    ours, theirs = (openpyxl.load_workbook(p, data_only=True).active for p in (target, expected))
    for row in theirs:
        assert [ours[cell.coordinate].value for cell in row] == [cell.value for cell in row]
    assert "HD_" not in parts(target)["xl/worksheets/sheet1.xml"].decode()
    assert len(formulas_of(book)) == 4


def test_libreoffice_without_the_functions_shows_the_values(book, tmp_path, bare_office):
    """A program that knows none of our functions and computes everything anew."""
    target = tmp_path / "out.xlsx"
    recalculate(book, target, FUNCTIONS, constants=True)
    shown = openpyxl.load_workbook(bare_office.convert(target, tmp_path / "shown"), data_only=True).active
    assert shown["A3"].value == 8367
    assert shown["C1"].value == 1


def test_list_of_the_order_of_calculation_goes_with_the_formulas(book, tmp_path):
    held = parts(book)
    names = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    chain = b'<calcChain %b><c r="A2" i="1"/></calcChain>' % names
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"
    relation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain"
    entry = f'<Relationship Id="rId99" Target="calcChain.xml" Type="{relation}"/></Relationships>'
    with_parts(
        book,
        {
            "xl/calcChain.xml": chain,
            "[Content_Types].xml": held["[Content_Types].xml"].replace(
                b"</Types>", f'<Override PartName="/xl/calcChain.xml" ContentType="{kind}"/></Types>'.encode()
            ),
            "xl/_rels/workbook.xml.rels": held["xl/_rels/workbook.xml.rels"].replace(
                b"</Relationships>", entry.encode()
            ),
        },
    )
    recalculate(book, tmp_path / "kept.xlsx", FUNCTIONS)
    assert parts(tmp_path / "kept.xlsx")["xl/calcChain.xml"] == chain
    recalculate(book, tmp_path / "out.xlsx", FUNCTIONS, constants=True)
    after = parts(tmp_path / "out.xlsx")
    assert not any(b"calcChain" in data for data in after.values())
    assert "xl/calcChain.xml" not in after


def test_refused_call_keeps_its_formula_among_values(book, tmp_path):
    made = openpyxl.load_workbook(book)
    made.active["A6"] = "=NOSUCHFUNCTION(HD_VERSION())"
    made.save(book)
    report = recalculate(book, tmp_path / "out.xlsx", FUNCTIONS, constants=True)
    assert report.refused == 1
    assert formulas_of(tmp_path / "out.xlsx")["A6"] == "=NOSUCHFUNCTION(HD_VERSION())"


@pytest.mark.parametrize("more", [[], ["-o", "{book}"], ["{other}", "-o", "out"]])
def test_values_need_one_workbook_and_another_name(book, tmp_path, more):
    given = [text.format(book=book, other=tmp_path / "other.xlsx") for text in more]
    failed = RUN.invoke(app, ["recalc", str(book), "--values", *given])
    assert isinstance(failed.exception, InputError)
    assert "--values is given; valid: given with one workbook" in str(failed.exception)
