"""Every row of every table says where it comes from and how far it was checked."""

from __future__ import annotations

import ast
import dataclasses
from pathlib import Path

import pytest

import xlcalc
from xlcalc.core.errors import InputError
from xlcalc.standards.loader import (
    ORIGIN_COLUMNS,
    Origin,
    Verified,
    column_number,
    read_table,
    rows_of_edition,
    table_names,
    weakest,
)

TABLES = table_names()


def test_the_expected_tables_are_shipped() -> None:
    assert set(TABLES) == {
        "capacitors",
        "drive_habits",
        "en50160",
        "en50160_statistics",
        "iec60034_30_1",
        "iec61000_2_2",
        "iec61000_2_4",
        "iec61000_2_4_statistics",
        "iec61000_3_12",
        "iec61000_3_2",
        "iec61000_3_6",
        "iec61000_3_6_rules",
        "iec61000_3_6_weights",
        "ieee519_current",
        "ieee519_even_orders",
        "ieee519_multiplier",
        "ieee519_notch",
        "ieee519_order_bands",
        "ieee519_statistics",
        "ieee519_voltage",
        "nec_430_250",
        "summation_exponents",
        "supply_presets",
        "telephone_weights",
        "transformer_k_ratings",
        "transformer_loading",
    }


@pytest.mark.parametrize("name", TABLES)
def test_every_row_names_its_origin(name: str) -> None:
    for row in read_table(name):
        assert set(ORIGIN_COLUMNS) <= set(row)
        assert None not in row.values(), "a line with too few or too many cells"
        assert all(row[column] for column in ("standard", "edition", "clause", "verified", "source")), row
        origin = Origin.of_row(row)
        assert bool(origin.confidence) == (origin.verified is Verified.FROM_MEMORY), row
        assert not any(cell != cell.strip() for cell in row.values()), row


def test_every_table_is_read_by_a_module_that_computes() -> None:
    package = Path(xlcalc.__file__).parent
    texts = {
        node.value
        for path in package.rglob("*.py")
        if "workbooks" not in path.relative_to(package).parts
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert set(TABLES) <= texts, "no module names the table"


def test_editions_that_others_have_replaced_say_so() -> None:
    replaced = {
        (row["standard"], row["edition"])
        for name in TABLES
        for row in read_table(name)
        if Origin.of_row(row).superseded_by
    }
    assert {
        ("IEC 61000-2-4", "2002"),
        ("IEEE 18", "2002"),
        ("EN 50160", "2010"),
        ("IEEE 519", "2014"),
    } <= replaced
    for name in ("ieee519_current", "ieee519_voltage", "ieee519_notch"):
        assert all(bool(row["superseded_by"]) == (row["edition"] != "2022") for row in read_table(name))


def test_the_edition_is_said_even_where_none_is_stated() -> None:
    assert Origin("IEC X", "2002", "Table 1", Verified.USER).text == "IEC X-2002 Table 1"
    assert Origin("IEC X", "not stated", "Table 1", Verified.USER).text == (
        "IEC X (edition not stated) Table 1"
    )


def test_rows_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        read_table("ieee519_voltage")[0]["thd"] = "99"  # type: ignore[index]


def test_unknown_table_and_edition_are_refused() -> None:
    with pytest.raises(InputError, match="ieee519_current"):
        read_table("../loader")
    with pytest.raises(InputError, match=r"edition is .?2013.?; valid: one of 1992, 2014, 2022"):
        rows_of_edition("ieee519_current", "2013")


def test_the_weakest_part_decides_how_verified_a_number_is() -> None:
    strong = Origin("S", "1", "Table 1", Verified.CROSS_CHECKED)
    high = Origin("S", "1", "note", Verified.FROM_MEMORY, "high")
    moderate = dataclasses.replace(high, confidence="moderate")
    one = dataclasses.replace(strong, verified=Verified.ONE_SOURCE)
    assert weakest(strong, [one]).verified is Verified.ONE_SOURCE
    assert weakest(strong, [one, high, moderate]).confidence == "moderate"
    assert weakest(strong, [high]).clause == "Table 1"


def test_infinity_is_written_inf() -> None:
    assert column_number({"x": "inf"}, "x") == float("inf")
