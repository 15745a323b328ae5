"""Calc itself: wizard, arrays, errors, speed, a template that is edited, a Python that does not match."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from xlcalc.hosts.libreoffice import declarations
from xlcalc.hosts.libreoffice.check import calculated, check
from xlcalc.hosts.libreoffice.component_text import component_text
from xlcalc.hosts.libreoffice.identifiers import parameters
from xlcalc.hosts.libreoffice.install import FOLDER_NAME, install, remove
from xlcalc.hosts.libreoffice.package import import_folders, package_files, write_folder
from xlcalc.recalc.recalc import recalculate
from xlcalc.workbooks.build import build_demo
from xlcalc.worksheet.catalogue import FUNCTIONS

SHEET = "Sheet1"
CALLS = 5000
ADD_IN_CATEGORY = 11


@pytest.fixture
def empty(calc):
    calc.open()
    yield calc
    calc.close()


def test_check_compares_every_example(office):
    steps = check(office, FUNCTIONS)
    assert [step for step in steps if not step.good] == []
    assert len(steps) == 1 + sum(len(function.examples) for function in FUNCTIONS.values())


def test_install_then_remove_leaves_nothing(bare_office, tmp_path):
    office = replace(bare_office, extensions=tmp_path)
    install(office, FUNCTIONS)
    assert (tmp_path / FOLDER_NAME / declarations.COMPONENT_FILE).is_file()
    remove(office)
    assert list(tmp_path.iterdir()) == []


def test_check_without_the_add_in_says_so(bare_office):
    (step,) = check(bare_office, FUNCTIONS)
    assert not step.good
    assert "#NAME?" in step.what
    assert "host install" in step.advice


def test_another_python_version_is_named_and_no_function_gives_a_number(bare_office, tmp_path):
    extensions = tmp_path / "extensions"
    office = replace(bare_office, profile=tmp_path / "profile", extensions=extensions)
    write_folder(extensions / FOLDER_NAME, FUNCTIONS)
    text = component_text(FUNCTIONS, import_folders(), (3, 1))
    (extensions / FOLDER_NAME / declarations.COMPONENT_FILE).write_text(text, encoding="utf-8")
    install_line = "=ORG.XLCALC.CALC.FUNCTIONS.HDVERSION()"
    version, number = calculated(office, [install_line, "=ORG.XLCALC.CALC.FUNCTIONS.HDSCAMPS(1000,69)"])
    assert "installed for Python 3.1" in str(version)
    assert number == "#VALUE!"


def test_wizard_shows_category_description_and_help(empty):
    shown = empty.wizard("HD_")
    assert sorted(shown) == sorted(FUNCTIONS)
    for name, (category, description, arguments) in shown.items():
        function = FUNCTIONS[name]
        assert category == ADD_IN_CATEGORY
        assert description.startswith(f"{function.category}: {function.summary}")
        declared = parameters(function)
        assert [label for label, _ in arguments] == [label for label, _ in declared]
        for (_, text), (_, argument) in zip(arguments, declared, strict=True):
            assert text.startswith(argument.help)


def test_array_fills_the_range_and_its_error_fills_it_too(empty):
    empty.array(SHEET, "A1:C50", "=HD_IDEAL_SPECTRUM(6)")
    rows = empty.read(SHEET, "A1:C50")
    assert [row[0] for row in rows] == list(map(float, range(1, 51)))
    assert rows[4][1] == pytest.approx(20.0)
    empty.array(SHEET, "E1:G50", "=HD_IDEAL_SPECTRUM(7)")
    assert empty.read(SHEET, "E1:G50") == [[{"error": "#NUM!"}] * 3] * 50


def test_repeating_ranges_are_summed_once_in_an_array_formula(empty):
    empty.fill(SHEET, "A1:A2", ["1", "7"])
    empty.fill(SHEET, "B1:B2", ["50", "10"])
    empty.fill(SHEET, "C1:C2", ["0", "0"])
    empty.array(SHEET, "E1:G7", "=HD_SPECTRUM_SUM(A1:C2;A1:C2)")
    assert [row[1] for row in empty.read(SHEET, "E1:G7")] == [100.0, "", "", "", "", "", 20.0]


def test_orders_without_a_magnitude_are_not_given(empty):
    """A blank cell, and a formula that gives an empty text, in a live range."""
    for row in range(1, 51):
        empty.write(SHEET, f"A{row}", float(row))
        empty.write(SHEET, f"B{row}", 100.0 if row == 1 else 0.5)
    empty.array(SHEET, "D1:L51", "=HD_VERDICT_IEEE519(A1:B50;100;200;13.8)")
    words = [row[5] for row in empty.read(SHEET, "D1:L51")]
    assert words == ["PASS"] * 51
    empty.write(SHEET, "B13", '=""')
    empty.fill(SHEET, "B7:B7", [""])
    rows = empty.read(SHEET, "D1:L51")
    assert [rows[h - 1][5] for h in (1, 5, 7, 13, 51)] == [
        *("NO VERDICT", "PASS", "NOT GIVEN", "NOT GIVEN", "NO VERDICT")
    ]
    assert "orders 7, 13 not given" in rows[50][6]
    empty.array(SHEET, "N1:V51", '=HD_VERDICT_IEEE519(A1:B50;100;200;13.8;;;"zero")')
    assert {row[5] for row in empty.read(SHEET, "N1:V51")} == {"PASS"}


@pytest.mark.parametrize(
    ("formula", "error"),
    [
        ("HD_CREST(7;0.5)", "#NUM!"),
        ('HD_CREST("x";0.5)', "#VALUE!"),
        ("HD_CREST(1/0;0.5)", "#DIV/0!"),
        ("HD_CREST(NA();0.5)", "#N/A"),
    ],
)
def test_sum_and_iferror_see_the_error(empty, formula, error):
    empty.write(SHEET, "A1", 1.0)
    empty.write(SHEET, "A2", f"={formula}")
    empty.write(SHEET, "A3", "=SUM(A1:A2)")
    empty.write(SHEET, "A4", "=IFERROR(A2;-1)")
    assert empty.read(SHEET, "A2:A4") == [[{"error": error}], [{"error": error}], [-1.0]]


def test_scalar_calls_a_second(empty):
    empty.fill(SHEET, f"C1:C{CALLS}", [f"=HD_SC_AMPS($B$1*1000+{n};69)" for n in range(CALLS)])
    rate = CALLS / empty.seconds(SHEET, "B1", 2.0, f"C1:C{CALLS}")
    print(f"{rate:.0f} scalar calls a second in Calc")
    last = empty.read(SHEET, f"C{CALLS}")[0][0]
    assert last == pytest.approx((2000 + CALLS - 1) * 1e3 / (3**0.5 * 69), rel=1e-9)


def test_equal_drives_are_solved_once(empty):
    empty.write(SHEET, "B1", 1.0)
    empty.fill(SHEET, "C1:C500", ["=HD_CREST(6;$B$1;3.21)"] * 500)
    same = empty.seconds(SHEET, "B1", 1.01, "C1:C500")
    empty.fill(SHEET, "C1:C500", [f"=HD_CREST(6;$B$1+{n}/1000;3.21)" for n in range(500)])
    different = empty.seconds(SHEET, "B1", 1.02, "C1:C500")
    print(f"500 equal drives {same:.3f} s, 500 different ones {different:.3f} s")
    assert same < 0.8 * different


@pytest.fixture(scope="module")
def study(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("study")
    book = folder / "study.xlsx"
    build_demo(book)
    recalculate(book, None, FUNCTIONS)
    return book


def test_editing_a_reactor_recalculates_the_study_as_headless_does(calc, study, tmp_path):
    calc.open(str(study))
    assert not calc.modified()
    protected = {name: calc.protected(name) for name in ("Drives", "PCC", "Arrays")}
    assert protected == {"Drives": False, "PCC": True, "Arrays": True}
    book = openpyxl.load_workbook(study)
    drives = book["Drives"]
    table = next(iter(drives.tables.values()))
    header = int("".join(filter(str.isdigit, table.ref.split(":")[0])))
    headings = {cell.value: cell.column_letter for cell in drives[header]}
    reactor = f"{headings['Line reactor (%)']}{header + 1}"
    before = calc.read("Drives", f"{headings['THD (%)']}{header + 1}")
    changed = 1.25
    assert drives[reactor].value != changed
    calc.write("Drives", reactor, changed)
    drives[reactor] = changed
    edited = tmp_path / "edited.xlsx"
    book.save(edited)
    recalculate(edited, None, FUNCTIONS)
    ours = openpyxl.load_workbook(edited, data_only=True)
    assert calc.read("Drives", f"{headings['THD (%)']}{header + 1}") != before
    compared = 0
    for name, cells in (
        ("Drives", f"A{header + 1}:S{drives.max_row}"),
        ("Arrays", "A6:P55"),
        ("PCC", "A1:H40"),
    ):
        for mine, theirs in zip(ours[name][cells], calc.read(name, cells), strict=True):
            for cell, shown in zip(mine, theirs, strict=True):
                if isinstance(cell.value, int | float):
                    assert shown == pytest.approx(cell.value, rel=1e-9, abs=1e-9), f"{name}!{cell.coordinate}"
                    compared += 1
    assert compared > 800
    assert not [f for row in calc.formulas("Arrays", "A6:P10") for f in row if "hd_" in f]
    calc.close()


def test_text_of_an_array_result_is_compared_after_joining_it(empty):
    """LibreOffice 7.4 does not find the text of an add-in's array by = or MATCH; joined to "" it does."""
    table = '{"tag";"rating";"unit";"pulses"|"P1";200;"kW";6|"P2";300;"kW";18}'
    site = (
        '{"utility kv";13.8|"utility mva";200|"transformer kva";1500|"transformer z pct";5.75|'
        '"main bus volts";480}'
    )
    empty.array(SHEET, "A1:G2", f"=HD_DRIVES({table};{site})")
    empty.write(SHEET, "I1", '=MATCH("P2";A1:A2;0)')
    empty.fill(SHEET, "J1:J2", ['=A1&""', '=A2&""'])
    empty.write(SHEET, "I2", '=MATCH("P2";J1:J2;0)')
    assert empty.read(SHEET, "A2") == [["P2"]]
    assert empty.read(SHEET, "I1:I2") == [[{"error": "#N/A"}], [2.0]]


def test_package_is_made_of_the_registry_alone():
    files = package_files(FUNCTIONS, import_folders())
    assert files == package_files(FUNCTIONS, import_folders())
    compile(files[declarations.COMPONENT_FILE], "component", "exec")


def test_a_book_that_calc_saved_is_recalculated_headlessly(office, study, tmp_path):
    """Calc saves its own service names for the functions; the headless path reads them as the functions."""
    saved = office.convert(study, tmp_path)
    report = recalculate(saved, tmp_path / "again.xlsx", FUNCTIONS)
    assert report.clean
    assert report.own_calls > 50
    ours = openpyxl.load_workbook(study, data_only=True)
    again = openpyxl.load_workbook(tmp_path / "again.xlsx", data_only=True)
    numbers = [
        (cell.value, again[sheet.title][cell.coordinate].value)
        for sheet in ours.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, int | float)
    ]
    assert len(numbers) > 2000
    assert [mine for mine, _ in numbers] == pytest.approx(
        [theirs for _, theirs in numbers], rel=1e-9, abs=1e-9
    )


def test_the_check_names_another_python_version(bare_office, tmp_path):
    """An opened .xlsx knows the functions all the same; each is an error, and the check says why."""
    extensions = tmp_path / "extensions"
    office = replace(bare_office, profile=tmp_path / "profile", extensions=extensions)
    write_folder(extensions / FOLDER_NAME, FUNCTIONS)
    text = component_text(FUNCTIONS, import_folders(), (3, 99))
    (extensions / FOLDER_NAME / declarations.COMPONENT_FILE).write_text(text, encoding="utf-8")
    (step,) = check(office, FUNCTIONS)
    assert not step.good
    assert "xlcalc is installed for Python 3.99" in step.advice
    assert calculated(office, ["=HD_SC_AMPS(20,0.48)"]) == ["#VALUE!"]
