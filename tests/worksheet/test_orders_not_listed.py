"""Orders that a spectrum does not list: no verdict passes on them, whichever standard and whichever door.

Every level here is far below its limit or far above (tables of the standards), so that
only what is missing decides.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ListedSpectrum, Spectrum
from xlcalc.equipment.capacitor import CapacitorRating, capacitor_stress, judge_capacitor
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.schema.values import CellError, Grid, Scalar, Value
from xlcalc.standards.iec61000_3_12 import judge_equipment
from xlcalc.standards.ieee519_verdict import judge_current, judge_voltage
from xlcalc.standards.order_limits import judge_orders, order_table, user_table
from xlcalc.standards.verdict import Judgement
from xlcalc.worksheet.catalogue import FUNCTIONS

WORD, REASON = 5, 6
ZERO = "zero"
OWN_LIMITS: Value = [[5.0, 4.0], [7.0, 3.0], [11.0, 2.0]]


@dataclass(frozen=True)
class Door:
    """A verdict function, its arguments after the spectrum, and its place for what orders not listed mean."""

    name: str
    others: tuple[Value, ...]
    padding: int = 0
    last: int = 50

    def rows(self, spectrum: Grid, *rule: str) -> Grid:
        extra: list[Value] = [*[None] * self.padding, *rule] if rule else []
        rows = FUNCTIONS[self.name]([spectrum, *self.others, *extra])
        assert isinstance(rows, list), rows
        assert rows[-1][0] == "overall"
        return rows

    def formula(self, spectrum: Grid, *rule: str) -> str:
        extra = ["" for _ in range(self.padding)] + [f'"{word}"' for word in rule] if rule else []
        return f"={self.name}({','.join([written(spectrum), *map(written, self.others), *extra])})"


def written(value: Value) -> str:
    if isinstance(value, list):
        return "{" + ";".join(",".join(written(cell) for cell in row) for row in value) + "}"
    if value is None:
        return ""
    return f'"{value}"' if isinstance(value, str) else f"{value:.15g}"


DOORS = [
    Door("HD_VERDICT_IEEE519", (100.0, 200.0, 13.8), padding=2),
    Door("HD_VERDICT_IEEE519_VOLTAGE", (0.48,), padding=1),
    Door("HD_VERDICT_IEC61000_3_12", (50.0, 400.0), padding=1, last=40),
    Door("HD_VERDICT_IEC61000_2_2", ()),
    Door("HD_VERDICT_IEC61000_2_4", ("2",)),
    Door("HD_VERDICT_EN50160", ("LV",), last=40),
    Door("HD_VERDICT_IEC61000_3_6", ("MV",)),
    Door("HD_VERDICT_OWN", (OWN_LIMITS, 6.0, "site agreement")),
    Door("HD_VERDICT_CAPACITOR", (100.0,), padding=2),
]
QUIET = 0.05
by_name = pytest.mark.parametrize("door", DOORS, ids=lambda door: door.name)


def listed(orders: list[int], loud: float = 0.0) -> Grid:
    """A fundamental of 100 and 0.05 in every other order; `loud` in the fifth."""
    sizes = {1: 100.0, 5: loud or QUIET}
    return [[float(h), sizes.get(h, QUIET)] for h in orders]


EVERY = list(range(1, 51))
SHORT = {
    "to order 13": list(range(1, 14)),
    "to order 25": list(range(1, 26)),
    "without even orders": EVERY[::2],
    "six-pulse orders": [1, *(h for h in EVERY if h % 6 in (1, 5) and h > 1)],
    "one order missing": [h for h in EVERY if h != 7],
}


@by_name
@pytest.mark.parametrize("orders", SHORT.values(), ids=SHORT.keys())
def test_a_list_with_gaps_never_passes(door: Door, orders: list[int]) -> None:
    rows = door.rows(listed(orders))
    *limits, overall = rows
    assert overall[WORD] == "NO VERDICT"
    missing = sorted(set(EVERY[: door.last]) - set(orders))
    reason = str(overall[REASON])
    assert str(missing[0]) in reason
    assert f"highest given {max(h for h in orders if h <= 50)}" in reason or door.last < 50
    assert 'orders_not_listed "zero"' in reason
    for quantity, order, value, limit, margin, word, *_ in limits:
        if order == "":
            needed = range(14, 41) if str(quantity).startswith("PWHC") else range(2, door.last + 1)
            lacking = set(needed) & set(missing) if door.name != "HD_VERDICT_CAPACITOR" else set(missing)
            part = lacking and lacking != set(needed)
            assert word == ("NO VERDICT" if part else "NOT GIVEN" if lacking else "PASS")
            assert str(quantity).endswith(", at least") is bool(part)
            assert (margin == "") is bool(lacking)
        else:
            assert word == ("NOT GIVEN" if order in missing else "PASS")
            assert (value == "") is (order in missing)
        assert limit


@by_name
@pytest.mark.parametrize("orders", SHORT.values(), ids=SHORT.keys())
def test_zero_is_what_the_user_says(door: Door, orders: list[int]) -> None:
    rows = door.rows(listed(orders), ZERO)
    assert {row[WORD] for row in rows} == {"PASS"}
    assert (
        rows[:-1]
        == door.rows(
            [[float(h), QUIET if h > 1 else 100.0] if h in orders else [float(h), 0.0] for h in EVERY]
        )[:-1]
    )


@by_name
def test_every_order_given_passes_and_a_blank_magnitude_takes_it_back(door: Door) -> None:
    spectrum = listed(EVERY)
    assert {row[WORD] for row in door.rows(spectrum)} == {"PASS"}
    for blank in (None, ""):
        spectrum[10][1] = blank
        rows = door.rows(spectrum)
        assert rows[-1][WORD] == "NO VERDICT"
        assert "order 11 not given" in str(rows[-1][REASON])
        totals = [row for row in rows if row[1] == "" and row[0] != "PWHC"]
        assert "PASS" not in {row[WORD] for row in totals}
    assert door.rows(spectrum, ZERO)[-1][WORD] == "PASS"


@by_name
def test_what_exceeds_fails_whatever_is_missing(door: Door) -> None:
    loud = 60.0 if door.name == "HD_VERDICT_CAPACITOR" else 24.0
    rows = door.rows(listed([1, 5, 7], loud))
    assert rows[-1][WORD] == "FAIL"
    assert "not given" in str(rows[-1][REASON])
    assert "FAIL" in {row[WORD] for row in rows[:-1]}


@by_name
def test_rows_stay_where_they_are(door: Door) -> None:
    full, short = door.rows(listed(EVERY)), door.rows(listed([1, 5]))
    assert [row[1] for row in short] == [row[1] for row in full]
    assert [row[3] for row in short] == [row[3] for row in full]


@by_name
def test_the_formula_says_the_same(door: Door) -> None:
    for spectrum, rule in (
        (listed([1, 5, 7, 11]), ()),
        (listed([1, 5, 7, 11]), (ZERO,)),
        (listed(EVERY), ()),
    ):
        assert evaluate_formula(door.formula(spectrum, *rule), FUNCTIONS) == door.rows(spectrum, *rule)


@pytest.mark.parametrize("rule", [(), (ZERO,)], ids=["not given", "zero"])
def test_the_command_line_says_the_same(rule: tuple[str, ...]) -> None:
    door = DOORS[0]
    command = [
        sys.executable,
        "-m",
        "xlcalc",
        "eval",
        door.formula(listed(SHORT["to order 13"]), *rule),
        "--json",
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    rows = json.loads(done.stdout)
    assert len(rows) == 51
    assert rows[-1][WORD] == ("PASS" if rule else "NO VERDICT")
    assert ("orders 14 to 50 not given, highest given 13" in rows[-1][REASON]) is not bool(rule)


@by_name
def test_another_word_is_refused_by_name(door: Door) -> None:
    result = FUNCTIONS[door.name]([listed(EVERY), *door.others, *[None] * door.padding, "nought"])
    assert isinstance(result, CellError)
    assert "orders_not_listed is 'nought'" in result.reason


def test_a_computed_spectrum_is_complete() -> None:
    spectrum = FUNCTIONS["HD_SPECTRUM"]([6.0, 1.0, 3.0])
    rows = FUNCTIONS["HD_VERDICT_IEEE519"]([spectrum, 1000.0, 200.0, 13.8])
    assert isinstance(rows, list)
    assert "NOT GIVEN" not in {row[WORD] for row in rows}
    assert rows[-1][WORD] == "PASS"


def test_the_reason_of_a_total_alone_names_its_orders() -> None:
    """Own limits of 5, 7 and 11 are all given; only the total of 6 % needs the others."""
    rows = FUNCTIONS["HD_VERDICT_OWN"]([listed([1, 5, 7, 11]), OWN_LIMITS, 6.0])
    assert isinstance(rows, list)
    assert [row[WORD] for row in rows] == ["PASS", "PASS", "PASS", "NO VERDICT", "NO VERDICT"]
    rows = FUNCTIONS["HD_VERDICT_OWN"]([listed([1, 5, 7, 11, 13]), OWN_LIMITS])
    assert isinstance(rows, list)
    assert [row[WORD] for row in rows] == ["PASS"] * 4
    assert "no limit for orders 13: not judged" in str(rows[-1][REASON])


def test_a_limit_of_zero_is_not_left_out() -> None:
    result = FUNCTIONS["HD_VERDICT_OWN"]([listed(EVERY), [[5.0, 4.0], [7.0, 0.0]]])
    assert isinstance(result, CellError)
    assert "limit of order 7 is 0" in result.reason


def test_a_fundamental_that_is_missing_is_never_zero() -> None:
    """A capacitor without its fundamental carries next to nothing."""
    rows = FUNCTIONS["HD_VERDICT_CAPACITOR"]([[[5.0, 4.0]], 100.0, None, None, ZERO])
    assert isinstance(rows, list)
    assert rows[-1][WORD] == "NO VERDICT"
    assert "the fundamental not given" in str(rows[-1][REASON])


def test_the_multiplier_needs_the_orders_that_it_holds_down() -> None:
    call = FUNCTIONS["HD_LIMIT_MULTIPLIER"]
    site = (100.0, 15.0, 0.48, "2014")
    assert call([[[1.0, 90.0], [5.0, 1.0], [7.0, 1.0]], *site]) == 1.4
    assert call([[[1.0, 90.0], [5.0, 1.0]], *site]) == 1.0
    assert call([[[1.0, 90.0], [5.0, 1.0], [7.0, None]], *site]) == 1.0
    assert call([[[1.0, 90.0], [5.0, 1.0]], *site, ZERO]) > 1.4
    verdict = FUNCTIONS["HD_VERDICT_IEEE519"]
    raised = verdict([[[1.0, 90.0], [5.0, 1.0], [11.0, 2.7]], *site, "yes"])
    assert isinstance(raised, list)
    assert raised[10][3] == 2.0


class TestSums:
    """A sum may not turn an order that one spectrum lacks into a zero of that spectrum."""

    A: ClassVar[Grid] = [[1.0, 50.0, 0.0], [5.0, 9.0, 0.0]]
    B: ClassVar[Grid] = [[1.0, 40.0, 0.0], [7.0, 6.0, 0.0]]

    @pytest.mark.parametrize("name", ["HD_SPECTRUM_SUM", "HD_SPECTRUM_SUM_IEC"])
    def test_spectra_that_list_different_orders_are_refused(self, name: str) -> None:
        result = FUNCTIONS[name]([self.A, self.A, self.B])
        assert isinstance(result, CellError)
        assert "order 5 in spectrum 1 but not in spectrum 3" in result.reason
        summed = FUNCTIONS[name]([self.A, self.B, ZERO])
        assert isinstance(summed, list)
        assert [summed[h - 1][1] for h in (1, 5, 7, 11)] == pytest.approx([90.0, 9.0, 6.0, 0.0])

    @pytest.mark.parametrize("name", ["HD_SPECTRUM_SUM", "HD_SPECTRUM_SUM_IEC"])
    def test_orders_of_none_are_blank_and_stay_not_given(self, name: str) -> None:
        summed = FUNCTIONS[name]([self.A, self.A])
        assert isinstance(summed, list)
        assert summed[0][1] == 100.0
        assert [row[1] for row in summed[5:]] == [""] * 45
        fundamental = [1.0, 99.0, 0.0]  # exactly 100 of 1000 A would be taken for percent
        rows = FUNCTIONS["HD_VERDICT_IEEE519"]([[fundamental, *summed[1:]], 1000.0, 200.0, 13.8])
        assert isinstance(rows, list)
        assert rows[-1][WORD] == "NO VERDICT"
        assert FUNCTIONS["HD_THD"]([summed]) == pytest.approx(
            100.0 * float(summed[4][1]) / 100.0  # type: ignore[arg-type]
        )


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ([["5", "20"], [7.0, 3.0]], "order in spectrum is '5', which is no number"),
        ([["order", "percent"], [5.0, "20 A"]], "magnitude of order 5 in spectrum is '20 A'"),
        ([[1.0, 100.0], [None, 20.0]], "order in spectrum is missing"),
        ([[1.0, 100.0], [True, 20.0]], "order in spectrum is True"),
        ([[1.0, 100.0], [51.0, 2.0]], "order in spectrum is 51"),
        ([[1.0, None], [5.0, None]], "without a magnitude"),
    ],
)
def test_what_was_typed_is_not_passed_over(cells: list[list[Scalar]], words: str) -> None:
    result = FUNCTIONS["HD_THD"]([cells])
    assert isinstance(result, CellError)
    assert words in result.reason


PYTHON: dict[str, Callable[[np.ndarray, str], Judgement]] = {
    "judge_current": lambda v, rule: judge_current(v, 200, 13.8, orders_not_listed=rule),
    "judge_voltage": lambda v, rule: judge_voltage(v, 0.48, orders_not_listed=rule),
    "judge_equipment": lambda v, rule: judge_equipment(v, 50, 400, orders_not_listed=rule),
    "judge_orders": lambda v, rule: judge_orders(
        order_table("iec61000_2_4"), "class 2", "voltage", v, orders_not_listed=rule
    ),
    "judge_orders, own": lambda v, rule: judge_orders(
        user_table("contract", [(5, 4.0)], 6.0), "user", "voltage", v, orders_not_listed=rule
    ),
}


@pytest.mark.parametrize("judge", PYTHON.values(), ids=PYTHON.keys())
def test_python_functions_say_the_same(judge: Callable[[np.ndarray, str], Judgement]) -> None:
    full = np.full(50, QUIET)
    assert judge(full, "not given").word == "PASS"
    for short in (full[:13], full[:25], np.where(np.arange(1, 51) % 2, full, np.nan)):
        judgement = judge(short, "not given")
        assert judgement.word == "NO VERDICT"
        assert "not given" in judgement.reason
        assert judgement.summary.startswith("NO VERDICT: ")
        assert judge(short, "zero").word == "PASS"
    loud = full[:13].copy()
    loud[4] = 60.0
    assert judge(loud, "not given").word == "FAIL"
    with pytest.raises(InputError, match="orders_not_listed is nothing; valid: one of not given, zero"):
        judge(full, "nothing")
    with pytest.raises(InputError, match="no row of finite numbers"):
        judge(np.array([100.0, np.inf]), "not given")


def test_equipment_under_a_spectrum_that_lacks_orders() -> None:
    complete = Spectrum.from_orders([(1, 80.0), (5, 8.0)])
    short = ListedSpectrum(complete.phasors, frozenset({1, 5}))
    bank = CapacitorRating(100.0, 1e5)
    assert judge_capacitor(capacitor_stress(bank, complete), "IEEE 18-2002").word == "PASS"
    assert judge_capacitor(capacitor_stress(bank, short), "IEEE 18-2002").word == "NO VERDICT"
    zero = capacitor_stress(bank, short, orders_not_listed="zero")
    assert judge_capacitor(zero, "IEEE 18-2002").word == "PASS"


ROUNDED = (0.1 + 0.2) / 0.3
"""1.0000000000000002: what arithmetic makes of 1."""


@by_name
@pytest.mark.parametrize(("factor", "word"), [(1.0, "PASS"), (ROUNDED, "PASS"), (1.0001, "FAIL")])
def test_a_value_at_its_limit_passes(door: Door, factor: float, word: str) -> None:
    """Each order alone at its limit, with no other harmonic."""
    spectrum = [[float(h), 100.0 if h == 1 else 0.0] for h in EVERY]
    base = 0.5 if door.name == "HD_VERDICT_IEC61000_3_12" else 1.0
    judged = [row for row in door.rows(spectrum)[:-1] if row[1] != ""]
    for row in judged:
        order, limit = int(float(str(row[1]))), float(str(row[3]))
        loud = [[h, limit * base * factor if h == order else size] for h, size in spectrum]
        (found,) = (r for r in door.rows(loud) if r[1] == order)
        assert found[WORD] == word, found


@pytest.mark.parametrize(("factor", "word"), [(1.0, "PASS"), (ROUNDED, "PASS"), (1.0001, "FAIL")])
def test_a_total_at_its_limit_passes(factor: float, word: str) -> None:
    """3 and 4 make 5 %: TDD of Isc/IL below 20, THD of an own table, by hand."""
    for formula, row in (
        (f'=HD_VERDICT_IEEE519({{1,100;5,{3 * factor};7,{4 * factor}}},100,15,0.48,2022,"no","zero")', 1),
        (f'=HD_VERDICT_OWN({{5,{3 * factor};7,{4 * factor}}},{{5,9}},5,"x","zero")', 2),
    ):
        assert evaluate_formula(f"=INDEX({formula[1:]},{row},6)", FUNCTIONS) == word
