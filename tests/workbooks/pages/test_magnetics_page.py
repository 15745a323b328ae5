"""The order sheet of magnetics in a submittal: what HD_MAGNETICS gives, device by device."""

from __future__ import annotations

from typing import Any

from openpyxl import Workbook

from xlcalc.drawing import style
from xlcalc.workbooks.pages.submittal_magnetics import is_needed, magnetics_sheet
from xlcalc.worksheet.catalogue import FUNCTIONS
from xlcalc.worksheet.functions.plant.magnetics import COLUMNS

HEADINGS: list[Any] = [
    *("tag", "quantity", "rating", "unit", "efficiency pct", "pulses", "line reactor pct", "dc choke pct"),
    *("filter capacitor pct", "filter reactor pct"),
]
DRIVES: list[list[Any]] = [
    HEADINGS,
    ["R1", 2.0, 75.0, "kW", 95.0, 6.0, 3.0, None, None, None],
    ["C1", 1.0, 75.0, "kW", 95.0, 12.0, None, 4.0, None, None],
    ["F1", 1.0, 75.0, "kW", 95.0, 6.0, 3.0, None, 15.0, 8.0],
    ["N1", 1.0, 75.0, "kW", 95.0, 6.0, None, None, None, None],
]
SITE: list[list[Any]] = [
    ["utility kv", 13.8],
    ["utility mva", 200.0],
    ["transformer kva", 1500.0],
    ["transformer z pct", 5.75],
    ["main bus volts", 480.0],
]


def rows() -> list[list[Any]]:
    found = FUNCTIONS["HD_MAGNETICS"]([DRIVES, SITE])
    assert isinstance(found, list)
    return found


def test_one_row_per_drive_with_its_own_devices_only() -> None:
    reactor, choke, series, nothing = ({**dict(zip(COLUMNS, row, strict=True))} for row in rows())
    assert reactor["reactor mH"] == series["reactor mH"]
    assert reactor["choke mH"] == reactor["filter reactor mH"] == ""
    assert choke["chokes per drive"] == 2.0
    assert choke["reactor mH"] == ""
    assert series["filter reactor rms A"] > 0.0
    assert {nothing[name] for name in COLUMNS[4:]} == {""}
    for name in ("reactor rms A", "reactor peak A"):
        assert reactor[f"{name} at 90 % line"] > reactor[name]
    orders = [reactor[f"reactor {order}th A"] for order in (5, 7, 11, 13)]
    assert sum(x**2 for x in (reactor["reactor fundamental A"], *orders)) <= reactor["reactor rms A"] ** 2


def test_the_sheet_has_a_table_for_every_kind_of_device() -> None:
    book = Workbook()
    style.register(book)
    sheet = book.create_sheet("Magnetics")
    found = rows()
    assert is_needed(found)
    assert not is_needed(found[-1:])
    magnetics_sheet(sheet, found, 60.0)
    first = [str(row[0].value or "") for row in sheet.iter_rows()]
    assert first.count("R1") == 1
    assert first.count("F1") == 2
    assert "N1" not in first
    titles = ("Line reactors, one per drive", "DC chokes", "Passive filters, one per drive")
    assert [text for text in first if text in titles] == list(titles)
    assert "Values for an enquiry" in str(sheet["A2"].value)
