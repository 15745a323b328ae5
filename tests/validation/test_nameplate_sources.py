"""Drives known by their nameplates against the sources of what is taken for the rest.

Link power from an input current: case A1 of the Modelica Standard Library, whose rms current and DC voltage
are published (see `test_modelica_standard_library`), with S_equ and R_sce as IEC 61000-3-12 defines them.
Motor currents: NEC Table 430.250; efficiencies: IEC 60034-30-1, both public copies. Triangle: scipy.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import triang

from xlcalc.core.errors import InputError
from xlcalc.equipment.motor_efficiency import typical_efficiency_pct
from xlcalc.equipment.nameplate import habit, motor_amps, reactor_habit
from xlcalc.rectifier.drive import FrontEnd
from xlcalc.studies.duty.front_end import input_link_watts
from xlcalc.studies.nameplate.assumption import Assumption


def test_link_power_of_case_a1_from_its_input_current() -> None:
    """400 V, 431.43 A rms from 60 uH: S_sc 8.49 MVA, S_equ 0.299 MVA; 524.83 V and 501.57 A DC."""
    volts, amps, watts = 400.0, 431.43, 524.83 * 501.57
    ohms = volts**2 / watts
    omega = 2.0 * math.pi * 50.0
    drive = FrontEnd(
        6,
        1.0,
        dc_capacitance_pu=omega * 15e-3 * ohms,
        source_xr=1000.0,
        capacitor_resistance_pct=0.0,
        diode_drop_pct=100.0 * 2.0 / volts,
        diode_resistance_pct=100.0 * 1e-3 / ohms,
    )
    strength = volts**2 / (omega * 60e-6) / (math.sqrt(3.0) * volts * amps)
    assert input_link_watts(drive, volts, amps, strength) == pytest.approx(watts, rel=1e-3)


@pytest.mark.parametrize(
    ("hp", "volts", "amps"),
    [(5, 230, 15.2), (50, 460, 65), (200, 460, 240), (500, 575, 472), (10, 208, 30.8)],
)
def test_motor_currents_of_nec_table_430_250(hp: float, volts: float, amps: float) -> None:
    assert motor_amps(hp, volts) == amps


def test_motor_currents_outside_the_table_are_refused() -> None:
    for hp, volts in ((600, 460), (250, 208), (10, 400), (0.1, 460)):
        with pytest.raises(InputError):
            motor_amps(hp, volts)


@pytest.mark.parametrize(("name", "pct"), [("IE1", 92.7), ("IE2", 94.0), ("IE3", 95.0), ("IE4", 96.0)])
def test_classes_of_iec_60034_30_1_at_75_kw(name: str, pct: float) -> None:
    assert typical_efficiency_pct(75e3, name) == pytest.approx(0.97 * pct)


def test_capacitance_of_the_table_holds_the_published_drive() -> None:
    """45 mF at 900 hp, 480 V, 60 Hz, from a published application guide."""
    found = habit("dc capacitance", "blank")
    pu = 2.0 * math.pi * 60.0 * 45e-3 * 480.0**2 / (900.0 * 745.7)
    assert found.low < pu < found.high


def test_equivalent_choke_as_computed_bridges_have_it() -> None:
    """Stiff DC bus, tables A10 and A11: 0.25 % and 4 % DC have 40.97 %, 3 % AC alone 40.78 %."""
    found = reactor_habit("dc choke", "equivalent", 3.0)
    assert found.low < 4.0 < found.high
    assert found.typical == pytest.approx(4.0, rel=0.15)


def test_unknowns_lie_on_the_triangle_of_scipy() -> None:
    choke = Assumption(
        name="dc choke pct", attribute="choke_pct", tags=("P",), low=2, typical=3, high=5, unit="%", basis="-"
    )
    shares = np.linspace(0.0, 1.0, 21)
    assert [choke.at(float(share)) for share in shares] == pytest.approx(
        triang.ppf(shares, 1.0 / 3.0, loc=2.0, scale=3.0)
    )
