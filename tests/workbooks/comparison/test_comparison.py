"""The template of front ends side by side, computed once, and with changed inputs."""

from __future__ import annotations

import shutil
import subprocess
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from openpyxl import Workbook, load_workbook

from xlcalc.core import resources
from xlcalc.recalc.recalc import recalculate
from xlcalc.recalc.report import RecalculationReport
from xlcalc.workbooks.comparison import comparison_study
from xlcalc.workbooks.comparison.comparison_data import read_comparison
from xlcalc.workbooks.kit import package
from xlcalc.worksheet.catalogue import FUNCTIONS

SOFFICE = shutil.which("soffice") or shutil.which("libreoffice")
PDFTOTEXT = shutil.which("pdftotext")
COLUMNS = range(2, 11)
Computed = tuple[Workbook, RecalculationReport]
Make = Callable[[Mapping[str, object]], Computed]


@pytest.fixture(scope="module")
def raw(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("comparison") / "raw.xlsx"
    data = read_comparison(resources.folder("demo") / "starter_comparison.toml")
    package.save(comparison_study.build(data), path)
    return path


@pytest.fixture(scope="module")
def computed(recalculated: Callable[..., Any]) -> tuple[Path, Workbook, RecalculationReport]:
    book = recalculated("front_end_comparison")
    return book.path, load_workbook(book.path, data_only=True), book.report


@pytest.fixture
def changed(raw: Path, tmp_path: Path) -> Make:
    """The template with other values under names of input cells, or in cells named as Sheet!A1."""

    def make(values: Mapping[str, object]) -> Computed:
        book = load_workbook(raw)
        for name, value in values.items():
            if "!" in name:
                sheet, cell = name.split("!")
            else:
                ((sheet, cell),) = book.defined_names[name].destinations
            book[sheet][cell.replace("$", "")].value = value
        source, target = tmp_path / "changed.xlsx", tmp_path / "result.xlsx"
        book.save(source)
        report = recalculate(source, target, FUNCTIONS)
        return load_workbook(target, data_only=True), report

    return make


def figures(book: Workbook, label: str) -> list[object]:
    """A row of the sheet Workings, one value per front end."""
    sheet = book["Workings"]
    row = next(r for r in range(1, 60) if sheet.cell(r, 1).value == label)
    return [sheet.cell(row, column).value for column in COLUMNS]


def test_everything_is_computed(computed: tuple[Path, Workbook, RecalculationReport]) -> None:
    _, book, report = computed
    assert not report.issues
    verdicts = [book["Comparison"].cell(7, column).value for column in COLUMNS]
    assert set(verdicts[:-1]) == {"PASS", "FAIL"}
    assert verdicts[-1] == "NO VERDICT"
    assert book["Comparison"]["A4"].value.startswith("Cheapest that keeps the limit, with example prices: ")


def test_spectra_are_those_of_the_waveforms(computed: tuple[Path, Workbook, RecalculationReport]) -> None:
    """numpy's Fourier transform of each waveform gives its spectrum, THD and amperes."""
    _, book, _ = computed
    arrays, fundamentals = book["Arrays"], figures(book, "Fundamental (A)")
    rated = 1000.0 * (250 * 0.745699872 / 0.95) / (np.sqrt(3.0) * 480.0)
    for number, thd in enumerate(figures(book, "THD, orders to 50 (%)")):
        wave = np.array([arrays.cell(row, 8 * number + 6).value for row in range(6, 366)])
        found = np.abs(np.fft.rfft(wave))[1:51] / 180.0
        percent = np.array([arrays.cell(row, 8 * number + 2).value or 0.0 for row in range(6, 56)])
        assert 100.0 * found / found[0] == pytest.approx(percent, abs=0.05)
        assert 100.0 * np.sqrt(np.sum(found[1:] ** 2)) / found[0] == pytest.approx(thd, abs=0.05)
        assert found[0] * rated == pytest.approx(fundamentals[number], rel=1e-3)


def test_limits_are_those_of_ieee_519(computed: tuple[Path, Workbook, RecalculationReport]) -> None:
    """Isc/IL 50 to 100, up to 69 kV: TDD 12 %, order 5 10 %, order 11 4.5 % (IEEE 519-2022 Table 2)."""
    _, book, _ = computed
    fundamental, thd = (figures(book, text) for text in ("Fundamental (A)", "THD, orders to 50 (%)"))
    fifth, used = figures(book, "5th (%)"), figures(book, "Limit used (%)")
    demand = 1000.0 * (250 * 0.745699872 / 0.95) / (np.sqrt(3.0) * 480.0)
    tdd = thd[0] * fundamental[0] / demand
    order5 = fifth[0] * fundamental[0] / demand
    assert used[0] == pytest.approx(max(100 * tdd / 12.0, 100 * order5 / 10.0), rel=1e-9)
    assert figures(book, "Clause")[0] == "IEEE 519-2022 Table 2"


def test_cost_by_hand(computed: tuple[Path, Workbook, RecalculationReport]) -> None:
    """12-pulse: 900 + 85 x kW^0.9, losses 1.6 % at 5500 h and 0.11 per kWh over 8 years, no rate."""
    _, book, _ = computed
    kw = 250 * 0.745699872 / 0.95
    purchase, losses = 900.0 + 85.0 * kw**0.9, kw * 0.016 * 5500.0 * 0.11
    assert figures(book, "Purchase")[5] == pytest.approx(purchase)
    assert figures(book, "Cost of added losses a year")[5] == pytest.approx(losses)
    assert figures(book, "Purchase and losses")[5] == pytest.approx(purchase + 8.0 * losses)


def test_money_worth_less_later(changed: Make) -> None:
    """10 years at 5 %: 7.7217 (annuity factor of any table of compound interest)."""
    book, _ = changed({"in_years": 10, "in_discount_pct": 5})
    ratio = (figures(book, "Purchase and losses")[5] - figures(book, "Purchase")[5]) / figures(
        book, "Cost of added losses a year"
    )[5]
    assert ratio == pytest.approx(7.7217, abs=5e-5)


def test_residual_spectrum_between_two_loads(changed: Make) -> None:
    """75 % load, midway between 2.28 and 2.40 % of the rating: 2.34 / 0.75 of the fundamental, by hand."""
    book, report = changed({"in_load_pct": 75})
    assert not report.issues
    assert figures(book, "5th (%)")[8] == pytest.approx(2.34 / 0.75)


def test_orders_that_the_residual_spectrum_lacks_are_not_zero(changed: Make) -> None:
    """The shipped one lists orders 5 to 25 of six pulses; a blank value at the load lacks its order too.

    Only a basis of one's own makes it count: the shipped one is an example.
    """
    book, report = changed({"residual_not_listed": "zero"})
    assert not report.issues
    assert figures(book, "Verdict")[8] == "NO VERDICT"
    own = {"residual_basis": "measured"}
    book, report = changed({"residual_not_listed": "zero", **own})
    assert not report.issues
    assert figures(book, "Verdict")[8] == "PASS"
    for limit in ("IEEE 519", "IEC 61000-3-12", "own limits"):
        assert figures(changed({"in_limit": limit, **own})[0], "Verdict")[8] in ("NO VERDICT", "NO RESULT"), (
            limit
        )
    every = {f"Residual!A{row}": row - 10 for row in range(12, 36)}
    shares = {f"Residual!{column}{row}": 0.01 for column in "BCDE" for row in range(12, 36)}
    book, _ = changed({**every, **shares})
    thirteenth = book["Arrays"].cell(5 + 13, 8 * 8 + 2).value
    assert thirteenth == pytest.approx(0.01)
    assert book["Arrays"].cell(5 + 26, 8 * 8 + 2).value in (None, "")
    book, _ = changed({**every, **shares, "Residual!D23": None})
    assert book["Arrays"].cell(5 + 13, 8 * 8 + 2).value in (None, "")


def test_a_residual_spectrum_in_fractions_has_no_verdict(changed: Make, raw: Path) -> None:
    """In percent the same spectrum passes, see above."""
    typed = [
        cell for row in load_workbook(raw)["Residual"]["B12:E35"] for cell in row if cell.value is not None
    ]
    fractions = {f"Residual!{cell.coordinate}": cell.value / 100.0 for cell in typed}
    book, _ = changed({"residual_not_listed": "zero", "residual_basis": "measured", **fractions})
    assert figures(book, "Verdict")[8] == "NO VERDICT"


def test_no_residual_spectrum_beyond_its_loads(changed: Make) -> None:
    book, report = changed({"in_load_pct": 5})
    assert {issue.outcome for issue in report.issues} == {"#N/A"}
    assert figures(book, "Verdict")[8] == "NO VERDICT"
    assert "NO VERDICT" not in figures(book, "Verdict")[:8]


def test_unsolvable_front_end_leaves_the_others(changed: Make) -> None:
    """7 pulses: no such front end; the headline still names the cheapest of the others."""
    book, report = changed({"Front ends!B7": 7})
    assert report.issues
    verdicts = figures(book, "Verdict")
    assert verdicts[2] == "NO VERDICT"
    assert verdicts.count("NO VERDICT") == 2
    assert "passive filter" in book["Comparison"]["A4"].value
    assert "reasons" in book["Comparison"].cell(9, 4).value


def test_other_limits(changed: Make) -> None:
    own, report = changed({"in_limit": "own limits", "in_own_thd_pct": 30})
    assert not report.issues
    assert figures(own, "Clause")[0].startswith("own table")
    fifth = figures(own, "5th (%)")
    assert figures(own, "Limit used (%)")[1] == pytest.approx(100 * fifth[1] / 8.0)
    beyond, report = changed({"in_limit": "IEC 61000-3-12"})
    assert report.issues
    assert set(figures(beyond, "Verdict")) == {"NO VERDICT"}
    within, report = changed({"in_limit": "IEC 61000-3-12", "in_rating": 40})
    assert not report.issues
    assert figures(within, "Clause")[0] == "IEC 61000-3-12-2011 Table 3"
    assert figures(within, "Verdict")[0] == "FAIL"


def test_none_keeps_the_limit(changed: Make) -> None:
    book, _ = changed({"in_limit": "own limits", "in_own_thd_pct": 0.5})
    assert book["Comparison"]["A4"].value.startswith("None of these keeps the limit. Nearest: 24-pulse")


def test_unbalanced_phase_is_turned_to_its_voltage(changed: Make) -> None:
    """The sine of the fundamental of each column starts near its rise through zero, whatever the phase."""
    book, _ = changed({"in_unbalance_pct": 2})
    assert set(figures(book, "Phase with the largest rms current")) != {1}
    sheet = book["Workings"]
    first = next(c for c in range(1, 200) if sheet.cell(5, c).value == "sine (A)")
    for column in range(first, first + 27, 3):
        wave = np.array([sheet.cell(row, column).value for row in range(6, 186)])
        assert np.argmax(wave) in range(30, 65)


def test_one_chart_per_kind_holds_all_columns(computed: tuple[Path, Workbook, RecalculationReport]) -> None:
    """Equal scales by construction: nine front ends on one axis, no chart of its own for any of them."""
    with zipfile.ZipFile(computed[0]) as archive:
        drawn = [archive.read(n) for n in sorted(archive.namelist()) if n.startswith("xl/charts/chart")]
    assert len(drawn) == 2
    waves = next(text for text in drawn if b"scatterChart" in text)
    assert waves.count(b"<xVal>") == 18


@pytest.mark.skipif(SOFFICE is None or PDFTOTEXT is None, reason="LibreOffice or pdftotext is not installed")
@pytest.mark.parametrize("paper", [9, 1], ids=["A4", "Letter"])
def test_prints_on_one_page(
    computed: tuple[Path, Workbook, RecalculationReport], paper: int, tmp_path: Path
) -> None:
    source = tmp_path / "printed.xlsx"
    with zipfile.ZipFile(computed[0]) as old, zipfile.ZipFile(source, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            new.writestr(name, content.replace(b'paperSize="9"', f'paperSize="{paper}"'.encode()))
    profile = (tmp_path / "profile").as_uri()
    command = [str(SOFFICE), "--headless", f"-env:UserInstallation={profile}", "--convert-to", "pdf"]
    subprocess.run([*command, "--outdir", str(tmp_path), str(source)], check=True, capture_output=True)
    text = subprocess.run(
        [str(PDFTOTEXT), "-layout", str(tmp_path / "printed.pdf"), "-"],
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    first, second = text.split("\f")[:2]
    for word in ("Limit kept?", "24-pulse", "Active front end", "Preliminary estimate", "True power factor"):
        assert word in first
    assert second.strip().startswith("Drive harmonic study")
    assert "Site" in second[:300]
    for error in ("###", "#NAME?", "#VALUE!", "#N/A", "Err:"):
        assert error not in first
