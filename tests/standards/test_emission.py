"""Shares of a planning level, the table of a computed drive, telephone weights."""

from __future__ import annotations

import cmath

import numpy as np
import pytest

from xlcalc.core.errors import InputError
from xlcalc.core.spectrum import ListedSpectrum, Spectrum
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.standards.iec61000_3_6 import emission_limit, judge_emission, stage_1_pct, summation_exponents
from xlcalc.standards.iec61000_3_12 import applicable_table
from xlcalc.standards.telephone import influence_factor, telephone_weights
from xlcalc.worksheet.catalogue import FUNCTIONS


@pytest.mark.parametrize("order", [3, 5, 7, 13, 25])
def test_all_shares_together_fill_the_level(order: int) -> None:
    """Summed by the exponents of the order, with what arrives from above: the definition, by hand."""
    alpha = summation_exponents()[order - 1]
    shares = [
        emission_limit(order, agreed_mva=mva, total_mva=40, short_circuit_mva=250, kv=20, transfer=0.8)
        for mva in (20, 12, 8)
    ]
    upstream = {3: 2, 5: 2, 7: 2, 13: 1.5, 25: 1.2 * 17 / 25}[order]
    total = sum(s.voltage_pct**alpha for s in shares) + (0.8 * upstream) ** alpha
    assert total ** (1 / alpha) == pytest.approx(shares[0].planning_pct, rel=1e-9)


def test_current_of_a_share() -> None:
    """Ohm's law: 1 % of 20 kV / sqrt 3 over 5 x 20^2 / 200 ohm is 11.5 A."""
    share = emission_limit(5, agreed_mva=10, total_mva=40, short_circuit_mva=200, kv=20)
    assert share.amps / share.voltage_pct == pytest.approx(0.01 * 20000 / 3**0.5 / (5 * 20**2 / 200))


def test_a_share_is_never_below_a_tenth_of_a_percent() -> None:
    assert emission_limit(15, agreed_mva=1, total_mva=40, short_circuit_mva=200, kv=20).voltage_pct == 0.1


@pytest.mark.parametrize(
    ("arguments", "argument"),
    [
        ({"agreed_mva": 50.0}, "agreed_mva"),
        ({"kv": 110.0}, "kv"),
        ({"short_circuit_mva": 0.0}, "short_circuit_mva"),
    ],
)
def test_bad_input_names_the_argument(arguments: dict[str, float], argument: str) -> None:
    sound = {"agreed_mva": 10.0, "total_mva": 40.0, "short_circuit_mva": 200.0, "kv": 20.0}
    with pytest.raises(InputError, match=argument):
        emission_limit(5, **(sound | arguments))


def test_unknown_kinds_of_load_are_refused() -> None:
    with pytest.raises(InputError, match="welder"):
        stage_1_pct({"welder": 1.0}, 100.0)


@pytest.mark.parametrize(
    ("drive", "table"),
    [("6,0.5,3", "Table 4"), ("6,0.5,0,4", "Table 4"), ("6,1,5", "Table 3"), ("18,0.5", "Table 5")],
)
def test_table_of_a_computed_drive(drive: str, table: str) -> None:
    """Angles of the 5th that a review found: 98 degrees with a 3 % reactor, 122 with a 4 % choke, 87 with
    1 % source and 5 % reactor; an 18-pulse drive has little 5th and 7th."""
    assert evaluate_formula(f"=HD_TABLE_IEC61000_3_12(HD_SPECTRUM({drive}))", FUNCTIONS) == table


def test_every_load_point_counts() -> None:
    def at(degrees: float) -> ListedSpectrum:
        spectrum = Spectrum.from_orders([(1, 1.0), (5, cmath.rect(0.3, degrees * cmath.pi / 180)), (7, 0.1)])
        return ListedSpectrum(spectrum.phasors, given=frozenset((1, 5, 7)))

    assert applicable_table([at(98.0), at(140.0)]) == "Table 4"
    assert applicable_table([at(98.0), at(87.0)]) == "Table 3"
    with pytest.raises(InputError, match="without order 7"):
        applicable_table([ListedSpectrum(at(98.0).phasors, given=frozenset((1, 5)))])


def test_weights_of_two_frequencies() -> None:
    """Both fundamentals meet at 300 Hz: the 6th of 50 Hz, the 5th of 60 Hz."""
    assert telephone_weights(50.0, 6)[5] == telephone_weights(60.0, 5)[4] == 225.0
    with pytest.raises(InputError, match="hz"):
        influence_factor(Spectrum.from_orders([(1, 1.0)]), 400.0)


def test_what_an_installation_emits_against_its_share() -> None:
    """1.473 % of 20 kV / sqrt 3 over 5 times the 2 ohm of 200 MVA: 17.01 A, by hand."""
    network = {"agreed_mva": 10.0, "total_mva": 40.0, "short_circuit_mva": 200.0, "kv": 20.0}
    limits = [emission_limit(5, **network)]
    assert limits[0].amps == pytest.approx(0.01473 * 20e3 / 3**0.5 / (5 * 2.0), rel=1e-3)
    amps = np.zeros(5)
    for value, word in ((17.0, "PASS"), (17.1, "FAIL")):
        amps[4] = value
        assert judge_emission(amps, limits).word == word
    short = judge_emission(amps[:4], limits)
    assert short.word == "NO VERDICT"
    assert "not given" in short.reason
    assert short.verdicts[0].verified.startswith("from memory (moderate)")
