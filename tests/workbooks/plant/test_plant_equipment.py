"""The sheets of equipment of the plant template: figures are those of the functions for its solution."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.worksheet.worksheet import Worksheet

from xlcalc.core import resources
from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment.transformer import LiquidTransformer, permitted_dry, permitted_liquid
from xlcalc.recalc.recalc import recalculate
from xlcalc.schema.values import Grid
from xlcalc.workbooks.kit import package
from xlcalc.workbooks.plant import network_sheet, plant_study
from xlcalc.workbooks.plant.equipment import equipment_sheet, power_sheet, transformer_sheet
from xlcalc.workbooks.plant.plant_data import PlantData, read_plant
from xlcalc.worksheet.catalogue import FUNCTIONS

FOLDER = resources.folder("demo")


@pytest.fixture(scope="module")
def values() -> Workbook:
    return load_workbook(resources.template("plant_study"), data_only=True)


def starter() -> PlantData:
    return read_plant(FOLDER / "starter_plant.toml", FOLDER / "starter_plant_drives.csv")


def grid(book: Workbook, name: str) -> Grid:
    ((sheet, cells),) = book.defined_names[name].destinations
    return [[cell.value for cell in row] for row in book[sheet][cells.replace("$", "")]]


def arguments(book: Workbook) -> list[Grid]:
    return [grid(book, "network"), grid(book, "drive_inputs")]


def amps(book: Workbook, element: str) -> Spectrum:
    rows = FUNCTIONS["HD_PLANT_AMPS"]([*arguments(book), element, grid(book, "view_settings")])
    assert isinstance(rows, list), rows
    return Spectrum.from_orders([(int(row[0]), row[1]) for row in rows])


def line(sheet: Worksheet, heading_row: int, name: str) -> dict[str, object]:
    """Figures of an element by heading."""
    headings = [str(cell.value) for cell in sheet[heading_row]]
    row = next(r for r in sheet.iter_rows(min_row=heading_row + 1) if r[0].value == name)
    return dict(zip(headings, (cell.value for cell in row), strict=True))


def test_dry_and_liquid_transformers(values: Workbook) -> None:
    sheet, row = values["Transformers"], transformer_sheet.FIRST_ROW + 1
    dry, liquid = (line(sheet, row, name) for name in ("T1", "T2"))
    assert (dry["type"], liquid["type"]) == ("dry", "liquid")
    spectrum = amps(values, "T1")
    assert dry["permitted load (%)"] == pytest.approx(permitted_dry(spectrum, 0.12).value, rel=1e-6)
    assert dry["rms (A)"] == pytest.approx(spectrum.rms, rel=1e-6)
    assert dry["load (% of rated)"] == pytest.approx(100 * spectrum.rms / (1500 / 3**0.5 / 0.48), rel=1e-6)
    tank = LiquidTransformer(0.12, 0.10, 0.18, 55.0, 10.0)
    permitted = permitted_liquid(tank, amps(values, "T2")).value
    assert liquid["permitted load (%)"] == pytest.approx(permitted, rel=1e-6)
    assert liquid["verdict"] == "PASS"
    assert liquid["ohmic loss (kW)"] == 8.2


def test_ohmic_loss_from_impedance_where_none_is_stated(values: Workbook) -> None:
    """1500 kVA x 5.75 % / sqrt(1 + 6^2) is the load loss, 1/1.12 of it ohmic (by hand)."""
    row = line(values["Transformers"], transformer_sheet.FIRST_ROW + 1, "T1")
    assert row["ohmic loss (kW)"] == pytest.approx(86.25 / 37**0.5 / 1.12)


def test_energy_and_cost_of_the_load_profile(values: Workbook) -> None:
    """4000 h at full, 4760 h at 40 % load: 4000 + 4760 x 0.16 h of the loss; prices 0.12 and 0.09."""
    row = line(values["Transformers"], transformer_sheet.FIRST_ROW + 1, "T2")
    kw = row["added loss (kW)"]
    assert kw > 0
    assert row["added energy (kWh a year)"] == pytest.approx(kw * (4000 + 4760 * 0.16))
    assert row["added cost (a year)"] == pytest.approx(kw * (4000 * 0.12 + 4760 * 0.16 * 0.09))


def test_totals_of_the_added_losses(values: Workbook) -> None:
    sheet = values["Power and losses"]
    first = power_sheet.LOSS_ROW + 2
    rows = [[sheet.cell(first + k, c).value for c in (1, 3, 4, 5)] for k in range(4)]
    assert [row[0] for row in rows] == ["Transformers", "Three-winding transformers", "Cables", "Total"]
    for column in (1, 2, 3):
        assert rows[3][column] == pytest.approx(sum(row[column] for row in rows[:3]))
        assert rows[0][column] > rows[2][column] > 0
    assert rows[0][1] == pytest.approx(sum(row[16] or 0 for row in _rows(values["Transformers"])), rel=1e-9)


def _rows(sheet: Worksheet) -> list[list[float | None]]:
    first = transformer_sheet.FIRST_ROW + 2
    rows = sheet.iter_rows(min_row=first, max_row=first + 5, values_only=True)
    return [[v if isinstance(v, float) else None for v in row] for row in rows]


def test_capacitor_against_both_standards(values: Workbook) -> None:
    sheet = values["Equipment"]
    row = next(r for r in sheet.iter_rows(min_row=equipment_sheet.CAPACITOR_ROW) if r[0].value == "C1")
    shown = [cell.value for cell in row]
    volts = FUNCTIONS["HD_PLANT_VOLTS"]([*arguments(values), "C1", grid(values, "view_settings")])
    ieee = FUNCTIONS["HD_VERDICT_CAPACITOR"]([volts, 600.0, "IEEE 18-2002"])
    iec = FUNCTIONS["HD_VERDICT_CAPACITOR"]([volts, 600.0, "IEC 60831-1"])
    figures = [*ieee[0][2:4], iec[0][2], *ieee[1][2:4], *ieee[2][2:4], iec[1][3], *ieee[3][2:4]]
    assert shown[1] == 0.6
    assert shown[2:12] == pytest.approx(figures, rel=1e-6)
    assert shown[12:14] == ["PASS", "PASS"]


def test_cable_against_its_rated_current(values: Workbook) -> None:
    row = line(values["Equipment"], equipment_sheet.CABLE_ROW + 1, "K1")
    spectrum = amps(values, "K1")
    rows = [[float(h), float(v)] for h, v in zip(spectrum.orders, spectrum.magnitude, strict=True)]
    permitted = FUNCTIONS["HD_CONDUCTOR_LOAD"]([rows, 0.1, 60.0, 16.0, 24.0])
    added = FUNCTIONS["HD_CONDUCTOR_ADDED_KW"]([rows, 0.1, 90.0, 60.0, 16.0, 24.0])
    assert row["permitted load (%)"] == pytest.approx(permitted, rel=1e-6)
    assert row["load (% of rated)"] == pytest.approx(100 * spectrum.rms / 620.0, rel=1e-6)
    assert row["added loss (kW)"] == pytest.approx(added / 2, rel=1e-6)
    assert row["verdict"] == "PASS"


def test_notches_by_bus(values: Workbook) -> None:
    settings = grid(values, "view_settings")
    found = FUNCTIONS["HD_PLANT_NOTCHES"]([*arguments(values), "general", settings])
    for expected in found:
        row = line(values["Equipment"], equipment_sheet.NOTCH_ROW + 1, expected[0])
        assert row["depth (%)"] == pytest.approx(expected[1], rel=1e-6)
        assert row["area (V us)"] == pytest.approx(expected[4], rel=1e-6)
        texts = (row["verdict"], row["drives with the deepest notch"] or "", row["remark"] or "")
        assert texts == (expected[8], expected[7], expected[10])


def test_power_in_every_case(values: Workbook) -> None:
    sheet = values["Power and losses"]
    for case in (1, 2, 3):
        settings = grid(values, f"case_{case}_coupled")
        rows = FUNCTIONS["HD_PLANT_POWER"]([*arguments(values), "Intake", settings])
        shown = [sheet.cell(power_sheet.FIRST_ROW + k, 2 + case).value for k in range(len(rows))]
        scale = [1000.0 if row[2] in ("W", "var", "VA") else 1.0 for row in rows]
        assert shown == pytest.approx([row[1] / s for row, s in zip(rows, scale, strict=True)], rel=1e-6)
    assert sheet.cell(power_sheet.FIRST_ROW, 6).value == "off"


def test_more_elements_than_are_in_view_stand_on_all_sheets(tmp_path: Path) -> None:
    """21 feeders: the rows in view grow with the data, the rest stays folded, and nothing is left out."""
    data = starter()
    feeders = [f"MCC-{k}" for k in range(1, 22)]
    tables = {
        **data.tables,
        "buses": (*data.tables["buses"], *({"name": bus, "kv": 0.48} for bus in feeders)),
        "transformers": (
            *data.tables["transformers"],
            *(
                {"name": f"X{bus}", "from bus": "Intake", "to bus": bus, "kva": 500, "z pct": 5}
                | {"vector group": "Dyn1"}
                for bus in feeders
            ),
        ),
    }
    drives = (
        *data.drives,
        {"tag": "N-1", "rating": 90, "unit": "kW", "pulses": 6, "bus": "MCC-21", "line reactor (%)": 3},
    )
    bigger = PlantData(
        data.study, data.settings, data.cases[:1], tables, drives, data.equipment, data.choices
    )
    path = tmp_path / "bigger.xlsx"
    package.save(plant_study.build(bigger), path)
    assert not recalculate(path, None, FUNCTIONS).issues
    book = load_workbook(path, data_only=True)
    row = line(book["Transformers"], transformer_sheet.FIRST_ROW + 1, "XMCC-21")
    assert row["funda- mental (A)"] > 50
    assert row["verdict"] == "PASS"
    for title, first, table in (
        ("Network", 0, ""),
        ("Transformers", transformer_sheet.FIRST_ROW + 2, "transformers"),
        ("Equipment", equipment_sheet.NOTCH_ROW + 2, "buses"),
    ):
        sheet = book[title]
        if not table:
            hidden = sum(sheet.row_dimensions[k].hidden for k in range(1, sheet.max_row + 1))
            assert hidden > 100
            continue
        shown = len(tables[table]) + 2
        assert not sheet.row_dimensions[first + shown - 1].hidden
        assert sheet.row_dimensions[first + shown].hidden
        assert sheet.row_dimensions[first + network_sheet.HELD[table] - 1].hidden
        assert not sheet.row_dimensions[first + network_sheet.HELD[table]].hidden


def test_each_winding_of_a_three_winding_transformer_has_its_own_current(
    recalculated: Callable[..., Any],
) -> None:
    """The demo: 12 % to each secondary, 22 % between them on 5 MVA, X/R 9: legs of 1, 11 and 11 %, by hand.

    The 5th and 7th cancel in the primary winding, not in the secondaries: those carry less than it does.
    """
    made = recalculated("plant demo")
    assert not made.report.issues
    book = load_workbook(made.path, data_only=True)
    rows = [
        line(book["Transformers"], transformer_sheet.THREE_ROW + 1, f"TM{ending}")
        for ending in ("", " secondary", " tertiary")
    ]
    full = 5000.0 / 100.0 / 82.0**0.5 / 1.12
    losses = [full * 1.0, full * 11.0 * 0.25, full * 11.0 * 0.25]
    assert [row["ohmic loss (kW)"] for row in rows] == pytest.approx(losses)
    assert [row["rated current (A)"] for row in rows] == pytest.approx(
        [5000 / 3**0.5 / 6.3, 2500 / 3**0.5 / 0.69, 2500 / 3**0.5 / 0.69]
    )
    for row, name in zip(rows, ("TM", "TM secondary", "TM tertiary"), strict=True):
        assert row["permitted load (%)"] == pytest.approx(
            permitted_dry(amps(book, name), 0.12).value, rel=1e-6
        )
    assert max(row["permitted load (%)"] for row in rows[1:]) < rows[0]["permitted load (%)"]


def test_a_plant_of_the_promised_size_fits() -> None:
    assert network_sheet.HELD["buses"] >= 50
    assert network_sheet.HELD["transformers"] >= 30
    assert network_sheet.HELD["capacitors"] >= 20
    assert network_sheet.HELD["generators"] >= 6
