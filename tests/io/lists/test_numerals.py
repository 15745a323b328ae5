"""Numbers as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError
from xlcalc.io.lists.numerals import AmbiguousError, Decimal, Numeral, decimal_of, is_blank, read_numeral


@pytest.mark.parametrize(
    ("text", "decimal", "expected"),
    [
        ("75", None, Numeral(75.0)),
        ("75 hp", None, Numeral(75.0, "hp")),
        ("75HP", None, Numeral(75.0, "HP")),
        ("5%", None, Numeral(5.0, "%")),
        ("12-pulse", None, Numeral(12.0, "pulse")),
        ("7-1/2", None, Numeral(7.5)),
        ("1 1/2 hp", None, Numeral(1.5, "hp")),
        ("3/4", None, Numeral(0.75)),
        ("7,5", None, Numeral(7.5)),
        ("1.200,5", None, Numeral(1200.5)),
        ("1,200.5", None, Numeral(1200.5)),
        ("1 200,5", None, Numeral(1200.5)),
        ("1\u202f200,5 kW", None, Numeral(1200.5, "kW")),
        ("1'200.5", None, Numeral(1200.5)),
        ("1.200.000", None, Numeral(1200000.0)),
        ("1,200", Decimal.COMMA, Numeral(1.2)),
        ("1,200", Decimal.POINT, Numeral(1200.0)),
        ("0,125", None, Numeral(0.125)),
        ("−5", None, Numeral(-5.0)),
        ("+5", None, Numeral(5.0)),
        (".5", None, Numeral(0.5)),
        ("1e3", None, Numeral(1000.0)),
    ],
)
def test_readings(text, decimal, expected):
    assert read_numeral(text, decimal) == expected


@pytest.mark.parametrize(
    ("text", "decimal"),
    [
        ("AFE", None),
        ("480/277", None),
        ("12-30", None),
        ("75 hp / 55 kW", None),
        ("1.2.3", None),
        ("1,20,000", None),
        ("=1+1", None),
        ("7.5", Decimal.COMMA),
        ("", None),
    ],
)
def test_what_is_no_number_is_not_guessed(text, decimal):
    assert read_numeral(text, decimal) is None


@pytest.mark.parametrize("text", ["1,200", "12.500"])
def test_a_number_with_two_readings_is_refused(text):
    with pytest.raises(AmbiguousError):
        read_numeral(text, None)


def test_a_file_with_both_decimal_signs_is_refused():
    assert decimal_of(["12", "1,200", "7,5"]) is Decimal.COMMA
    assert decimal_of(["12", "1,200", "7.5"]) is Decimal.POINT
    with pytest.raises(InputError, match="decimal sign"):
        decimal_of(["7.5", "7,5"])


def test_blank_words():
    assert all(is_blank(cell) for cell in (None, "", "  ", "-", "n/a", "None"))
    assert not any(is_blank(cell) for cell in (0.0, "0", "no"))


@given(st.floats(min_value=-1e9, max_value=1e9, allow_nan=False))
def test_python_writes_it_and_we_read_it(value):
    """Python's own formatting as the outside writer: groups of thousands, two signs."""
    text = f"{value:,.3f}"
    german = text.translate(str.maketrans(",.", ".,"))
    assert read_numeral(text, Decimal.POINT) == Numeral(float(f"{value:.3f}"))
    assert read_numeral(german, Decimal.COMMA) == Numeral(float(f"{value:.3f}"))


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text):
    try:
        numeral = read_numeral(text, None)
    except AmbiguousError:
        return
    assert numeral is None or isinstance(numeral.value, float)
