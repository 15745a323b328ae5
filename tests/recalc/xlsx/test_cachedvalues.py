"""Values that go into a sheet come out the same, for any reader."""

from __future__ import annotations

import math
import zipfile
from io import BytesIO

import numpy as np
import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from xlcalc.recalc.xlsx.cachedvalues import decode, encode, encode_number, same_value, unwritable
from xlcalc.schema.values import CellError, ErrorCode

_TEXT = st.text(
    st.characters(codec="utf-8", exclude_characters="\ufffe\uffff", exclude_categories=["Cs"]), max_size=60
)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_read_back_exactly(number: float) -> None:
    text = encode_number(number).decode()
    assert float(text) == number
    assert decode("", text) == number
    assert same_value(decode("", text), number)


@given(st.integers(-(10**15) + 1, 10**15 - 1))
def test_whole_numbers_have_no_point(number: int) -> None:
    assert encode_number(float(number)).decode() == str(number)


@given(_TEXT)
def test_texts_read_back_exactly(text: str) -> None:
    if unwritable(text):
        return
    encoded = encode(text)
    space = ' xml:space="preserve"' if encoded.keep_space else ""
    element = etree.fromstring(f"<v{space}>".encode() + encoded.text + b"</v>")
    assert decode("str", element.text or "") == text
    if text != text.strip():
        assert encoded.keep_space


@settings(max_examples=20, deadline=None)
@given(
    st.lists(_TEXT.filter(lambda t: t and not unwritable(t) and "\r" not in t and "_x" not in t), min_size=1)
)
def test_another_library_reads_the_texts(texts: list[str]) -> None:
    book = openpyxl.Workbook()
    for row in range(1, len(texts) + 1):
        book.active.cell(row, 1, "=1")
    stream = BytesIO()
    book.save(stream)
    rows = b"".join(
        b'<row r="%d"><c r="A%d" t="str"><f>1</f><v>%b</v></c></row>' % (n, n, encode(text).text)
        for n, text in enumerate(texts, 1)
    )
    result = BytesIO()
    with zipfile.ZipFile(stream) as old, zipfile.ZipFile(result, "w") as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                start, end = content.index(b"<sheetData>") + 11, content.index(b"</sheetData>")
                content = content[:start] + rows + content[end:]
            new.writestr(name, content)
    sheet = openpyxl.load_workbook(result, data_only=True).active
    assert [sheet.cell(n, 1).value for n in range(1, len(texts) + 1)] == texts


@pytest.mark.parametrize(
    "value",
    [
        math.nan,
        math.inf,
        -math.inf,
        10**400,
        "a\0b",
        "\x1f",
        "\ud800",
        "\uffff",
        "x" * 32_768,
        "😀" * 16_384,
        [1],
        b"a",
    ],
)
def test_what_no_cell_can_hold_is_named(value: object) -> None:
    assert unwritable(value)


@pytest.mark.parametrize(
    "value", [0.0, 5, True, "", "x" * 32_767, "😀" * 16_383, None, CellError(ErrorCode.NA)]
)
def test_what_a_cell_can_hold_is_accepted(value: object) -> None:
    assert unwritable(value) == ""


def test_numbers_of_numpy_are_plain_numbers() -> None:
    assert encode(np.float64(1.5)) == encode(1.5)
    assert encode(np.float64(3)) == encode(3)


def test_text_that_looks_like_an_escape_stays_text() -> None:
    assert encode("_x0041_").text == b"_x005F_x0041_"
    assert decode("str", "_x005F_x0041_") == "_x0041_"
    assert encode("a\rb").text == b"a_x000D_b"
