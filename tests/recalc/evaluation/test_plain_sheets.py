"""The quick reading of plainly written sheets against the reading cell by cell: same feed, same file."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from xml.sax.saxutils import escape, unescape

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lxml import etree

from xlcalc.files.errors import WorkbookFileError
from xlcalc.recalc import recalc
from xlcalc.recalc.evaluation.calculation import Calculation
from xlcalc.recalc.evaluation.content import SheetContent
from xlcalc.recalc.evaluation.feeding.feed import package_bytes
from xlcalc.recalc.reader import read_book
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.xlsx.archive import container
from xlcalc.recalc.xlsx.package import WorkbookPackage

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "application/vnd.openxmlformats-officedocument.spreadsheetml"
CALLER = re.compile(r"ROW\(\)\+(\d{10,})")
"""How a formula of a plainly written sheet tells its number: by its row and a number of its column."""


class Adds:
    """A stand-in for a worksheet function."""

    name = "X_ADD"
    min_args = 1
    max_args = None
    volatile = False
    shape = None

    def __call__(self, raw: list) -> float:
        return sum(item for item in raw if isinstance(item, float))


FUNCTIONS = {"X_ADD": Adds()}


def write_book(path: Path, rows: str, strings: tuple[str, ...] = ("a & b", "007")) -> Path:
    table = (
        f'<table xmlns="{MAIN}" id="1" name="T" displayName="T" ref="H1:I9"><tableColumns count="2">'
        '<tableColumn id="1" name="kW"/><tableColumn id="2" name="x"/></tableColumns></table>'
    )
    parts = {
        "[Content_Types].xml": '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{TYPES}.sheet.main+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}"><Relationship Id="r1" '
        f'Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>'
        '<sheet name="S" sheetId="1" r:id="r1"/></sheets><definedNames><definedName name="Volts">S!$A$1'
        "</definedName></definedNames></workbook>",
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}"><Relationship Id="r1" '
        f'Type="{OFFICE}/worksheet" Target="worksheets/s.xml"/><Relationship Id="r2" '
        f'Type="{OFFICE}/sharedStrings" Target="t.xml"/></Relationships>',
        "xl/worksheets/_rels/s.xml.rels": f'<Relationships xmlns="{PACKAGE}"><Relationship Id="r1" '
        f'Type="{OFFICE}/table" Target="../tables/t1.xml"/></Relationships>',
        "xl/tables/t1.xml": table,
        "xl/worksheets/s.xml": f'<worksheet xmlns="{MAIN}"><sheetData>{rows}</sheetData></worksheet>',
        "xl/t.xml": f'<sst xmlns="{MAIN}">'
        + "".join(f"<si><t>{escape(t)}</t></si>" for t in strings)
        + "</sst>",
    }
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def fed(path: Path, *, plain: bool) -> tuple[dict[str, str], dict[int, str], bool]:
    """Cells as the engine gets them, refusals, and whether the quick reading was taken."""
    package = WorkbookPackage.open(path, check_cells=not plain)
    calculation = Calculation(read_book(package, plain=plain), FUNCTIONS)
    calculation.prepare()
    archive = package_bytes(calculation._feeds(), False)
    path.with_suffix(".fed").write_bytes(archive)
    with zipfile.ZipFile(path.with_suffix(".fed")) as packed:
        root = etree.fromstring(packed.read("xl/worksheets/sheet1.xml"))
    cells = {}
    for cell in root.iter(f"{{{MAIN}}}c"):
        formula, value = cell.find(f"{{{MAIN}}}f"), cell.find(f"{{{MAIN}}}v")
        text = formula.text if formula is not None else value.text or ""
        row = int(cell.get("r").lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))
        text = CALLER.sub(lambda told, row=row: str(calculation.prepared.called(int(told[1]) + row)), text)
        if formula is None and "t" not in cell.attrib:
            text = repr(float(text))
        cells[cell.get("r")] = f"{'f' if formula is not None else cell.get('t', 'n')} {text}"
    refused = dict(calculation._refusals.reasons)
    texts = [item.source.text for item in calculation.prepared]
    return (
        cells | {f"text {i}": text for i, text in enumerate(texts)},
        refused,
        bool(calculation.prepared.plain),
    )


def both_agree(path: Path) -> dict[str, str]:
    quick, slow = fed(path, plain=True), fed(path, plain=False)
    assert quick[2]
    assert not slow[2]
    assert quick[:2] == slow[:2]
    return quick[0]


FORMULAS = (
    "A{r}*B{r}",
    "0.0{r}+A{r}",
    "A{p}+A{r}",
    "SUM($A$1:A{r})",
    "SUM(A{r}:A$6)",
    "SUM(A{r}:A{p})",
    "SUM(B{r}:A{r})",
    'IF(A{r}>{r},"A{r}","B{r} & A1")',
    "X_ADD(A{r},Volts)",
    'X_ADD(A{r},X_ADD(B{r}))&"%d 5%"',
    "A{r}%",
    "A1048576+A{r}",
    "Volts+{r}",
    "T[[#This Row],[kW]]*{r}",
    "T[[#This Row],[kW]]*2",
    "SUM(T[kW])+A{r}",
    "'S'!A{r}+S!$B{r}",
    "NOSUCH(A{r})",
    "Z1+",
    "A{r}{r}+1",
    "$A{r}+a$2+a{r}",
    "SUM(A:A)-A{r}",
    "A2:A7*1",
    "L{r}+1",
)
SPELLINGS = (
    lambda text: escape(text),
    lambda text: escape(text, {'"': "&quot;"}),
    lambda text: escape(text).replace("A", "&#65;", 1),
)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_feed_is_that_of_the_slow_reading(tmp_path: Path, data: st.DataObject) -> None:
    columns = data.draw(st.lists(st.sampled_from(FORMULAS), min_size=1, max_size=4))
    rows = ""
    for r in range(1, 13):
        number = data.draw(st.sampled_from(["1", "-2", "1.50", "1E2", "+3", " 4"]))
        cells = f'<c r="A{r}" s="1"><v>{number}</v></c>'
        cells += f'<c r="B{r}" t="s"><v>{r % 2}</v></c>'
        for place, formula in enumerate(columns):
            used = formula if data.draw(st.integers(0, 7)) else data.draw(st.sampled_from(FORMULAS))
            spelling = data.draw(st.sampled_from(SPELLINGS)) if data.draw(st.integers(0, 5)) == 0 else escape
            text = spelling(used.replace("{r}", str(r)).replace("{p}", str(max(r - 1, 1))))
            cells += f'<c r="{"LMNO"[place]}{r}"><f>{text}</f><v>0</v></c>'
        rows += f'<row r="{r}">{cells}</row>'
    both_agree(write_book(tmp_path / "book.xlsx", rows))


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_shared_formulas_mean_what_the_slow_reading_says(tmp_path: Path, data: st.DataObject) -> None:
    more = ("SUM(2:2)+A{r}", "SUM($2:3)", "SUM(K:K)*A{r}", "A1048570+A{r}", "SUM(A$3:A{r})", "SUM(A{r}:A$6)")
    columns = data.draw(st.lists(st.sampled_from((*FORMULAS, *more)), min_size=1, max_size=3))
    first = data.draw(st.integers(1, 4))
    rows = ""
    for r in range(1, 13):
        cells = f'<c r="A{r}"><v>{r}</v></c>'
        for place, formula in enumerate(columns):
            text = escape(formula.replace("{r}", str(r)).replace("{p}", str(max(r - 1, 1))))
            marks = f't="shared" si="{data.draw(st.sampled_from([place, place, place, 0]))}"'
            if r == first or data.draw(st.integers(0, 9)) == 0:
                cells += f'<c r="{"LMNO"[place]}{r}"><f {marks} ref="L1:O12">{text}</f><v>0</v></c>'
            elif r > first:
                cells += f'<c r="{"LMNO"[place]}{r}"><f {marks}/><v>0</v></c>'
        rows += f'<row r="{r}">{cells}</row>'
    both_agree(write_book(tmp_path / "book.xlsx", rows))


def test_every_kind_of_constant_and_shared_formulas(tmp_path: Path) -> None:
    rows = (
        '<row r="1"><c r="A1"><v>12345678901234567890</v></c><c r="B1" t="b"><v>1</v></c>'
        '<c r="C1" t="e"><v>#N/A</v></c><c r="D1" t="str"><v>a_x000D_b&amp;</v></c>'
        '<c r="E1" t="d"><v>2020-01-02</v></c>'
        '<c r="F1" t="inlineStr"><is><t xml:space="preserve"> x </t></is></c>'
        '<c r="G1" s="4"/><c r="H1"><v/></c><c r="I1" t="str"><v></v></c></row>'
        '<row r="2"><c r="A2"><f t="shared" ref="A2:A4" si="0">A1*$B$1&amp;"A1"</f><v>1</v></c></row>'
        '<row r="3"><c r="A3"><f t="shared" si="0"/><v>1</v></c></row>'
        '<row r="4"><c r="A4"><f t="shared" si="0"></f><v>1</v></c><c r="B4"><f>C1+1</f></c></row>'
    )
    path = write_book(tmp_path / "book.xlsx", rows)
    cells = both_agree(path)
    assert cells["text 2"] == 'A3*$B$1&"A1"'
    report = recalculate(path, tmp_path / "out.xlsx", FUNCTIONS)
    assert ("B4", "#N/A", "follows from S!C1") in [(i.cell, i.outcome, i.reason) for i in report.issues]


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="2"><c r="A2"><v>1</v></c></row><row r="1"><c r="A1"><f>A2</f></c></row>',
        '<row r="1"><c r="B1"><f>A1</f></c><c r="A1"><v>1</v></c></row>',
        '<row r="1"><c r="A1"><f>1</f><v>1</v><extLst/></c></row>',
        "<row r=\"1\"><c r='A1'><f>1+1</f></c></row>",
        '<row r="1"><c><f>1+1</f></c></row>',
    ],
)
def test_unusual_spelling_is_read_cell_by_cell(tmp_path: Path, rows: str) -> None:
    path = write_book(tmp_path / "book.xlsx", rows)
    quick, slow = fed(path, plain=True), fed(path, plain=False)
    assert not quick[2]
    assert quick == slow


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1"><f>1</f></c><c r="A1"><f>2</f></c></row>',
        '<row r="1"><c r="A1"><v>1e999</v></c></row>',
        '<row r="1"><c r="A1"><v>1-2</v></c></row>',
        '<row r="1"><c r="A1"><v>1.2.3</v></c></row>',
        '<row r="1"><c r="A1" t="s"><v>2</v></c></row>',
        '<row r="1"><c r="A1"><f t="odd">1</f></c></row>',
        '<row r="1048577"><c r="A1048577"><v>1</v></c></row>',
        '<row r="1"><c r="XFE1"><f>1</f></c></row>',
    ],
)
def test_what_is_not_acceptable_stays_so(tmp_path: Path, rows: str) -> None:
    path = write_book(tmp_path / "book.xlsx", rows)
    before = path.read_bytes()
    with pytest.raises(WorkbookFileError):
        recalculate(path, None, FUNCTIONS)
    assert path.read_bytes() == before


def test_the_file_is_that_of_the_slow_way(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All kinds of old values and results, refused formulas, circles and cells far apart."""
    olds = ["", "<v/>", "<v>0</v>", "<v>3</v>", "<v>x</v>"]
    formulas = [
        "1+2",
        '"a &lt; b"',
        "1/0",
        "TRUE",
        "ZZ99",
        "A{r}+1",
        "B{r}",
        "NOSUCH(1)",
        "SUM(A1:G{r})",
        "OFFSET(A1,1,1)",
        '" x"',
        "X_ADD(1,2)",
    ]
    kinds = ["", ' t="str"', ' t="e" s="2"', ' t="n"', ' s="1" t="b"']
    rows = ""
    for r in range(1, 61):
        formula = formulas[r % len(formulas)].replace("{r}", str(r))
        rows += f'<row r="{r}"><c r="A{r}"{kinds[r % 5]}><f>{formula}</f>{olds[r // 5 % 5]}</c>'
        rows += f'<c r="B{r}"><f ca="1">A{r}</f>\n<v>3</v></c></row>'
    rows += '<row r="900000"><c r="XFD900000"><f>A1</f></c></row>'
    path = write_book(tmp_path / "book.xlsx", rows)
    quick = recalculate(path, tmp_path / "quick.xlsx", FUNCTIONS, stamp="x")
    plainly = read_book

    def slowly(package: WorkbookPackage, *, plain: bool = False) -> object:
        return plainly(package)

    monkeypatch.setattr(recalc, "read_book", slowly)
    slow = recalculate(path, tmp_path / "slow.xlsx", FUNCTIONS, stamp="x")
    assert quick.issues == slow.issues
    assert (quick.changed, quick.evaluated, quick.refused) == (slow.changed, slow.evaluated, slow.refused)
    assert quick.refused > 10
    assert quick.changed > 30
    assert (tmp_path / "quick.xlsx").read_bytes() == (tmp_path / "slow.xlsx").read_bytes()


@pytest.mark.parametrize("size", [1, 7, 64, 1000])
def test_the_file_does_not_depend_on_how_it_is_unpacked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, size: int
) -> None:
    """A sheet is patched piece by piece; a piece may end anywhere."""
    rows = "".join(
        f'<row r="{r}"><c r="A{r}" s="1"><v>{r}</v></c><c r="B{r}"/>'
        f'<c r="C{r}" t="str"><f>"&lt;/c&gt;"&amp;A{r}</f></c><c r="D{r}"><f>A{r}/3</f><v>1</v></c></row>'
        for r in range(1, 40)
    )
    path = write_book(tmp_path / "book.xlsx", rows)
    recalculate(path, tmp_path / "whole.xlsx", FUNCTIONS, stamp="x")
    monkeypatch.setattr(container, "_CHUNK", size)
    recalculate(path, tmp_path / "pieces.xlsx", FUNCTIONS, stamp="x")
    parts = []
    for name in ("whole.xlsx", "pieces.xlsx"):
        with zipfile.ZipFile(tmp_path / name) as archive:
            parts.append(archive.read("xl/worksheets/s.xml"))
    assert parts[0] == parts[1]
    assert b"<v>&lt;/c&gt;39</v>" in parts[0]


def test_text_that_looks_regional_is_still_found(tmp_path: Path) -> None:
    rows = '<row r="1"><c r="A1" t="str"><v>1,5</v></c><c r="B1"><f>A1*2</f><v>7</v></c></row>'
    report = recalculate(write_book(tmp_path / "book.xlsx", rows), tmp_path / "out.xlsx", FUNCTIONS)
    assert report.refused == 1
    assert "regional" in report.issues[0].reason


def test_filled_down_cells_share_one_analysis(tmp_path: Path) -> None:
    rows = "".join(f'<row r="{r}"><c r="C{r}"><f>A{r}*B{r}+C{r - 1}</f></c></row>' for r in range(2, 400))
    package = WorkbookPackage.open(write_book(tmp_path / "book.xlsx", rows), check_cells=False)
    content = read_book(package, plain=True)
    assert isinstance(content.sheets[0], SheetContent)
    calculation = Calculation(content, FUNCTIONS)
    calculation.prepare()
    assert len(calculation.prepared.plain[0].compiled) == 1
    text = re.sub(r"\d+", "", calculation.prepared[397].source.text)
    assert unescape(text) == "A*B+C"
