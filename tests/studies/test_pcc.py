"""Sums, exact identities and options at the PCC, for given load currents."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import Spectrum
from xlcalc.network.chain import series_network
from xlcalc.network.elements import Transformer, Utility
from xlcalc.network.loads import LoadModel, StaticLoad
from xlcalc.network.nodal import NodalNetwork
from xlcalc.standards.ieee519 import Installation
from xlcalc.studies.pcc import PccOptions, PccResult
from xlcalc.studies.solution import solve_injected
from xlcalc.studies.sources import LoadCurrent, Summation
from xlcalc.studies.verdict.assessed import on_worst_row

TYPICAL = {1: 1.0, 5: 0.175, 7: 0.110, 11: 0.045, 13: 0.029, 17: 0.015, 19: 0.010, 23: 0.009, 25: 0.008}
"""Typical six-pulse spectrum of IEEE 519-1992 (recalled), per unit of the fundamental."""

UTILITY = Utility(13_800, 200e6, 10)
SUPPLY, SECOND = Transformer(1.5e6, 5.75, 6, 13_800, 480), Transformer(500e3, 4, 4, 480, 480, -30)
PLANT = series_network(UTILITY, SUPPLY, SECOND)
STIFF = series_network(
    Utility(13_800, 1e13, 10),
    dataclasses.replace(SUPPLY, rating_va=1e12),
    dataclasses.replace(SECOND, rating_va=1e12),
)
"""Every bus at its nominal voltage and angle, whatever flows."""


def load(amps: float, bus: str = "main", quantity: int = 1, tag: str = "drive") -> LoadCurrent:
    spectrum = Spectrum.from_orders([(h, amps * p) for h, p in TYPICAL.items()])
    return LoadCurrent.balanced(tag, bus, spectrum, quantity)


def linear(watts: float, power_factor: float) -> StaticLoad:
    """A load on the main bus that draws fundamental current only."""
    var = watts * math.tan(math.acos(power_factor))
    return StaticLoad("linear load", "main", watts, var, LoadModel.NONE)


def pcc_of(network: NodalNetwork, *loads: LoadCurrent, options: PccOptions | None = None) -> PccResult:
    """The PCC for loads whose angles are against the EMF of the supply."""
    return solve_injected(network, loads, source_angles=True).pcc(options)


@given(st.integers(1, 200))
def test_n_identical_drives_in_phase_scale_tdd_at_a_fixed_demand(n: int) -> None:
    """Exact identity: TDD = 100 sqrt(sum (n I_h)^2) / I_L."""
    options = PccOptions("main", demand_amps=5000.0)
    one = pcc_of(STIFF, load(20), options=options)
    many = pcc_of(STIFF, load(20, quantity=n), options=options)
    assert many.tdd_pct == pytest.approx(n * one.tdd_pct, rel=1e-12)
    harmonics = 100 * n * 20 * math.sqrt(sum(p**2 for h, p in TYPICAL.items() if h > 1)) / 5000
    assert many.tdd_pct == pytest.approx(harmonics, rel=1e-12)


@given(st.floats(1, 2e6), st.floats(0.5, 1.0))
def test_linear_load_dilutes_the_distortion(watts: float, power_factor: float) -> None:
    """Exact identity: TDD = THD_I I_1 / I_L."""
    drive = load(300)
    network = dataclasses.replace(STIFF, loads=(linear(watts, power_factor),))
    pcc = pcc_of(network, drive, options=PccOptions("main"))
    amps = watts / (math.sqrt(3) * 480 * power_factor)
    demand = abs(300 + amps * (power_factor - 1j * math.sqrt(1 - power_factor**2)))
    assert pcc.demand_amps == pytest.approx(demand, rel=1e-6)
    assert pcc.tdd_pct == pytest.approx(drive.spectra[0].thd_pct * 300 / pcc.demand_amps, rel=1e-9)


def test_generator_fed_voltage() -> None:
    """Exact identity V_h = h X''d I_h (per unit): X''d 15 %, typical spectrum at half load, THDV 10.42 %."""
    volts, rating = 480.0, 1e6
    generator = series_network(Utility(volts, rating / 0.15, 1000))
    half = 0.5 * rating / (math.sqrt(3) * volts)
    pcc = pcc_of(generator, load(half, "utility"))
    expected = {5: 6.56, 7: 5.78, 11: 3.71, 13: 2.83, 17: 1.91, 19: 1.43, 23: 1.55, 25: 1.50}
    for order, percent in expected.items():
        assert pcc.voltage_pct[order - 1] == pytest.approx(percent, abs=0.0051)
    assert pcc.thdv_pct == pytest.approx(10.42, abs=0.01)


def test_current_falls_and_per_unit_stays_on_the_way_to_the_utility() -> None:
    main = pcc_of(PLANT, load(300), options=PccOptions("main"))
    utility = pcc_of(PLANT, load(300), options=PccOptions("utility"))
    np.testing.assert_allclose(utility.current_amps, main.current_amps * 480 / 13_800)
    np.testing.assert_allclose(utility.current_pct, main.current_pct)
    assert utility.thdv_pct < main.thdv_pct
    assert utility.short_circuit_amps == pytest.approx(200e6 / (math.sqrt(3) * 13_800))


def test_two_groups_behind_transformers_thirty_degrees_apart() -> None:
    """5th, 7th, 17th and 19th cancel at the main bus, 11th, 13th, 23rd and 25th add up."""
    pcc = pcc_of(STIFF, load(100), load(100, "second", tag="other"), options=PccOptions("main"))
    for order in (5, 7, 17, 19):
        assert pcc.current_amps[order - 1] == pytest.approx(0, abs=1e-9)
    for order in (11, 13, 23, 25):
        assert pcc.current_amps[order - 1] == pytest.approx(200 * TYPICAL[order])
    assert pcc.fundamental_amps == pytest.approx(200)


def test_arithmetic_sum_ignores_the_angles_but_not_those_of_the_fundamental() -> None:
    loads = [load(100), load(100, "second", tag="other")]
    network = dataclasses.replace(PLANT, loads=(linear(100e3, 0.6),))
    phasor = pcc_of(network, *loads, options=PccOptions("main"))
    plain = pcc_of(network, *loads, options=PccOptions("main", summation=Summation.ARITHMETIC))
    assert plain.demand_amps == pytest.approx(phasor.demand_amps)
    for order, pu in TYPICAL.items():
        if order > 1:
            assert plain.current_amps[order - 1] == pytest.approx(200 * pu)
    assert (plain.voltage_pct >= phasor.voltage_pct - 1e-12).all()


def test_exponents_count_every_unit() -> None:
    """Ten equal units: 10^(1/1.4) at the 5th and 7th, sqrt(10) above the 10th."""
    options = PccOptions("main", demand_amps=1000.0, summation=Summation.EXPONENTS)
    pcc = pcc_of(PLANT, load(10, quantity=10), options=options)
    assert pcc.current_amps[4] == pytest.approx(1.75 * 10 ** (1 / 1.4))
    assert pcc.current_amps[10] == pytest.approx(0.45 * math.sqrt(10))


def test_background_adds_to_the_drop_with_its_angle() -> None:
    """The load takes Z I from a voltage that is already there; a resistance-free supply gives -j X I."""
    for deg, sign in ((-90.0, 1), (90.0, -1)):
        utility = Utility(480, 10e6, 1000, background=((5, 2.0, deg),))
        pcc = pcc_of(series_network(utility), load(600, "utility"))
        drop = 100 * 5 * (480**2 / 10e6) * 600 * 0.175 * math.sqrt(3) / 480
        assert pcc.voltage_pct[4] == pytest.approx(abs(2.0 + sign * drop), rel=1e-3)
    arithmetic = PccOptions(summation=Summation.ARITHMETIC)
    plain = pcc_of(series_network(utility), load(600, "utility"), options=arithmetic)
    assert plain.voltage_pct[4] == pytest.approx(2.0 + drop, rel=1e-3)


def test_background_alone_shows_at_every_bus() -> None:
    """Order 3, zero sequence, only up to the transformer whose shift tells of a delta."""
    utility = dataclasses.replace(UTILITY, background=((3, 0.5, 10), (5, 2, 30), (7, 1, -40)))
    network = series_network(utility, SUPPLY, SECOND)
    idle = PccOptions("second", demand_amps=100.0)
    pcc = pcc_of(network, options=idle)
    assert pcc.voltage_pct[[2, 4, 6]] == pytest.approx([0, 2, 1])
    assert pcc.tdd_pct == pytest.approx(0, abs=1e-9)
    assert pcc_of(network, options=PccOptions("main", demand_amps=100.0)).voltage_pct[
        [2, 4, 6]
    ] == pytest.approx([0.5, 2, 1])


def test_the_largest_phase_is_judged() -> None:
    phases = np.zeros((3, 5), dtype=complex)
    phases[:, 0] = [100, 100 * np.exp(-2j * np.pi / 3), 100 * np.exp(2j * np.pi / 3)]
    phases[:, 2] = [3, -12, 9]
    pcc = pcc_of(series_network(UTILITY), LoadCurrent("x", "utility", phases))
    assert pcc.worst_phase == 1
    assert pcc.tdd_pct == pytest.approx(12)
    assert pcc.current_pct[2] == pytest.approx(12)


def test_judgement_names_the_binding_order_and_the_unverified_rows() -> None:
    failing = pcc_of(PLANT, load(900), options=PccOptions("main", "2022"))
    assert failing.limit_row == "20 <= Isc/IL < 50"
    assert failing.judgement.passes is False
    assert failing.judgement.binding.name == "TDD"
    assert failing.judgement.binding.ratio == pytest.approx(failing.tdd_pct / 8.0)
    worst = failing.judgement.binding_order
    assert worst is not None
    assert worst.name == "current harmonic, order 5"
    assert worst.ratio == pytest.approx(17.5 / 7.0)
    assert "worst order: current harmonic, order 5: 17.50 % against 7 %, FAIL" in failing.judgement.summary
    assert failing.judgement.note == ""


def test_higher_limits_are_opt_in_and_need_their_condition() -> None:
    """5th and 7th at most a quarter of 4 %: the 11th may reach 2.8 % (2014 Table 5), TDD stays at 5 %."""
    twelve = LoadCurrent.balanced(
        "twelve",
        "utility",
        Spectrum.from_orders([(1, 100), (5, 0.9), (7, 0.8), (11, 2.6), (13, 1.5)]),
    )
    weak = series_network(Utility(480, 15 * 100 * 480 * math.sqrt(3), 10))
    plain = pcc_of(weak, twelve, options=PccOptions(edition="2014"))
    raised = pcc_of(weak, twelve, options=PccOptions(edition="2014", raise_other_limits=True))
    assert plain.held_orders is None
    assert plain.judgement.failures[0].order == 11
    limits = [raised.current_limit(h).value for h in (5, 6, 7, 11, 17)]
    assert limits == pytest.approx([4.0, 1.0, 4.0, 2.8, 2.1])
    assert raised.judgement.of_quantity("current harmonic").passes is True
    assert raised.judgement.of_quantity("TDD").binding.limit == 5.0
    not_held = PccOptions(edition="2014", raise_other_limits=True)
    assert pcc_of(weak, load(100, "utility"), options=not_held).held_orders is None


@pytest.mark.parametrize(
    ("call", "argument"),
    [
        (lambda: PccOptions(edition="2021"), "edition"),
        (lambda: PccOptions(demand_amps=0), "demand_amps"),
        (lambda: PccOptions(summation="worst"), "summation"),  # type: ignore[arg-type]
        (lambda: PccOptions(installation="pump"), "installation"),  # type: ignore[arg-type]
        (lambda: PccOptions(inverter_pct=-1.0), "inverter_pct"),
        (lambda: pcc_of(PLANT, load(1), options=PccOptions("third")), "bus"),
        (lambda: pcc_of(PLANT, load(1, "third")), "bus"),
        (lambda: load(1, quantity=0), "quantity of drive"),
        (lambda: LoadCurrent("x", "main", np.zeros((2, 50))), "phases of x"),
        (lambda: LoadCurrent("x", "main", np.full((3, 5), np.nan)), "phases of x"),
    ],
)
def test_bad_input_names_the_argument(call: object, argument: str) -> None:
    with pytest.raises(InputError) as caught:
        call()  # type: ignore[operator]
    assert caught.value.argument == argument


def test_no_demand_current_is_said() -> None:
    with pytest.raises(NoSolutionError, match="no current flows"):
        pcc_of(PLANT)


def test_power_generation_is_judged_by_the_first_row() -> None:
    """TDD limit 5 % of Table 2 in place of that of the row of its own Isc/IL."""
    options = PccOptions("main", demand_amps=400.0)
    drive = load(300.0)
    generating = dataclasses.replace(options, installation=Installation.GENERATION)
    own, first = (pcc_of(PLANT, drive, options=one) for one in (options, generating))
    assert first.isc_il == own.isc_il > 50
    assert (own.judgement.verdicts[0].limit, first.judgement.verdicts[0].limit) == (12.0, 5.0)
    assert on_worst_row(first) is first
    inverters = dataclasses.replace(options, inverter_pct=12.0)
    left = pcc_of(PLANT, drive, options=inverters)
    assert left.judgement.word == "NO VERDICT"
    assert "IEEE 1547 or IEEE 2800" in left.judgement.reason
    before = pcc_of(PLANT, drive, options=dataclasses.replace(inverters, edition="2014"))
    assert before.judgement.word != "NO VERDICT"
