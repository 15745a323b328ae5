"""Slips that leave a plausible number behind: fractions of percent, radians, kilometres, amperes for a ratio.

What is expected follows from the slip: the number is a hundredth, or a thousandth, of one that is made, and
the sentence says what was probably meant. A value that is meant is written with its unit.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from xlcalc import Supply
from xlcalc.core.errors import InputError
from xlcalc.io.plants.site_file import read_drive_site
from xlcalc.recalc.evaluate import evaluate_formula
from xlcalc.recalc.reasons import Reasons
from xlcalc.schema.assembly.case_loads import load_in_case
from xlcalc.schema.assembly.network import network_of
from xlcalc.schema.assembly.site import network
from xlcalc.schema.inputs.settings import NETWORK_SETTINGS
from xlcalc.schema.inputs.site import SITE
from xlcalc.schema.values import CellError, ErrorCode
from xlcalc.worksheet.catalogue import FUNCTIONS

Plant = dict[str, Any]
PLANT: Plant = {
    "settings": {"edition": "2022"},
    "cases": [{"name": "day"}],
    "buses": [{"name": "U", "kv": 13.8}, {"name": "A", "kv": 0.48}, {"name": "B", "kv": 0.48}],
    "utility": [{"bus": "U", "max mva": 220}],
    "transformers": [
        {"name": name, "from bus": "U", "to bus": bus, "kva": 1500, "z pct": 5.75, "vector group": "Dyn1"}
        for name, bus in (("T1", "A"), ("T2", "B"))
    ],
    "loads": [{"name": "L1", "bus": "A", "kw": 400, "kind": "spectrum", "orders not listed": "zero"}],
    "spectra": [
        {"load": "L1", "order": 5, "percent": 20, "source": "data sheet"},
        {"load": "L1", "order": 7, "percent": 0.4},
    ],
}
CABLE = {"name": "K", "from bus": "A", "to bus": "B", "r ohm per km": 0.1, "x ohm per km": 0.08}
FRONT_END = {"name": "F", "bus": "B", "kva": 200, "kw": 150, "filter kvar": 10, "orders not listed": "zero"}
BANK = {"name": "C", "bus": "A", "kvar": 200}
GENERATOR = {"name": "G", "bus": "A", "kva": 500, "subtransient pct": 15}
AFE_ORDER = {"load": "F", "order": 5, "source": "data sheet"}


def put(table: str, row: int, name: str, value: object) -> Callable[[Plant], None]:
    return lambda plant: plant[table][row].__setitem__(name, value)


def add(**rows: dict[str, object]) -> Callable[[Plant], None]:
    def change(plant: Plant) -> None:
        for table, row in rows.items():
            plant.setdefault(table.replace("_", " "), []).append(row)

    return change


def toml(plant: Plant) -> str:
    lines = []
    for title, found in plant.items():
        for row in found if isinstance(found, list) else [found]:
            lines.append(f"[[{json.dumps(title)}]]" if isinstance(found, list) else f"[{title}]")
            lines += [f"{json.dumps(name)} = {json.dumps(value)}" for name, value in row.items()]
    return "\n".join(lines)


def read(folder: Path, change: Callable[[Plant], None]) -> list[Any]:
    """The networks of all cases."""
    plant = deepcopy(PLANT)
    change(plant)
    path = folder / "plant.toml"
    path.write_text(toml(plant), encoding="utf-8")
    found: Any = read_drive_site(path)
    return [network_of(found.tables, case) for case in found.cases.values()]


IN_A_PLANT: dict[str, tuple[Callable[[Plant], None], str, str]] = {
    "spectrum as fractions": (
        lambda plant: plant.update(
            spectra=[{"load": "L1", "order": 5, "percent": 0.2, "source": "data sheet"}]
        ),
        "percent of L1 in row 2 of table spectra",
        "did you mean 20 %",
    ),
    "spectrum of a front end as fractions": (
        add(active_front_ends=FRONT_END, spectra={**AFE_ORDER, "percent": 0.03}),
        "percent of F in row 4 of table spectra",
        "did you mean 3 %",
    ),
    "cable in km": (add(cables={**CABLE, "length m": 0.09}), "length m", "did you mean 90 m"),
    "shift in radians": (put("transformers", 0, "shift deg", -0.5236), "shift deg", "1 deg or more"),
    "R/X of a supply": (put("utility", 0, "x/r", 0.11), "x/r", "did you mean 9.091"),
    "R/X of a transformer": (put("transformers", 0, "x/r", 0.17), "x/r", "upside down"),
    "power factor a tenth": (put("loads", 0, "pf", 0.09), "pf", "0.2 or more"),
    "load by its kVA": (
        lambda plant: plant["loads"][0].update(kw=1200, pf=0.5),
        "kw of L1",
        "1.5 times the 1500 kVA",
    ),
    "kV to neutral": (put("buses", 0, "kv", 7.97), "kv", "did you mean 13.8 kV"),
    "detuned by its order": (
        add(capacitors={**BANK, "kind": "detuned", "reactor pct": 3.78}),
        "reactor pct",
        "4.5 % or more",
    ),
    "quality upside down": (
        add(capacitors={**BANK, "kind": "tuned", "tuned order": 4.7, "quality": 0.02}),
        "quality",
        "did you mean 50",
    ),
    "generator beyond its rating": (add(generators={**GENERATOR, "kw": 5000}), "kw of G", "500 kVA"),
    "vars beyond the rating": (add(generators={**GENERATOR, "kvar": -600}), "kvar of G", "500 kVA"),
    "inverters as a fraction": (
        lambda plant: plant["settings"].update({"inverter pct": 0.3}),
        "inverter pct",
        "did you mean 30 %",
    ),
}
MEANT: dict[str, Callable[[Plant], None]] = {
    "the plant itself": lambda plant: None,
    "a small spectrum": lambda plant: plant.update(
        spectra=[{"load": "L1", "order": 5, "percent": "0.8 %", "source": "data sheet"}]
    ),
    "a weak cable ahead": put("utility", 0, "x/r", "0.3 X/R"),
    "a delta of 7.2 kV": lambda plant: plant["buses"][0].update(kv="7.2 kV"),
    "a bank tuned to the 5th": add(capacitors={**BANK, "kind": "detuned", "reactor pct": "4 %"}),
    "a generator at its rating": add(generators={**GENERATOR, "kw": 400, "kvar": 300}),
    "a bus bar": add(cables={**CABLE, "length m": "0.9 m"}),
    "few inverters": lambda plant: plant["settings"].update({"inverter pct": "1 %"}),
    "no inverters": lambda plant: plant["settings"].update({"inverter pct": 0}),
}


@pytest.mark.parametrize("name", IN_A_PLANT)
def test_a_plant_names_the_row_and_what_was_meant(tmp_path: Path, name: str) -> None:
    change, place, meant = IN_A_PLANT[name]
    with pytest.raises(InputError) as refused:
        read(tmp_path, change)
    assert place in str(refused.value)
    assert meant in str(refused.value)
    assert "cell" not in str(refused.value)


@pytest.mark.parametrize("change", MEANT.values(), ids=list(MEANT))
def test_a_value_that_is_meant_is_read(tmp_path: Path, change: Callable[[Plant], None]) -> None:
    assert read(tmp_path, change)


def site(**values: object) -> dict[str, Any]:
    given = {"utility kv": 12.47, "utility mva": 150, "transformer kva": 1000, "transformer z pct": 5.75}
    pairs = {**given, "main bus volts": 480, **{name.replace("_", " "): v for name, v in values.items()}}
    return SITE.convert([[name, value] for name, value in pairs.items()], "site")


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"second transformer shift deg": 30}, "second transformer shift deg"),
        ({"second transformer x/r": 7}, "second transformer x/r"),
    ],
)
def test_data_of_a_transformer_that_is_not_there(values: dict[str, object], name: str) -> None:
    with pytest.raises(InputError, match="second transformer kva") as refused:
        network(site(**values))
    assert name in str(refused.value)
    network(site(**{"second transformer x/r": 4, "second transformer shift deg": 0}))


def test_a_capacitor_a_thousand_times_too_small() -> None:
    with pytest.raises(InputError, match=r"capacitor mvar.*0\.001 Mvar or more"):
        site(capacitor_mvar=0.0003)


def test_the_load_of_one_drive_as_a_factor() -> None:
    settings = {**NETWORK_SETTINGS.defaults, "drive loads": "P-1 1.2"}
    with pytest.raises(InputError, match="did you mean 120 %"):
        load_in_case({"P-1": 100.0}, settings)
    assert load_in_case({"P-1": 100.0}, {**settings, "drive loads": "P-1 3"}) == {"P-1": 3.0}


def test_a_wrong_choice_is_told_in_words() -> None:
    grid = [["installation", "power generation"]]
    with pytest.raises(InputError, match="did you mean 'generation'"):
        NETWORK_SETTINGS.convert(grid, "settings")


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"kv": 0.48, "mva": 20, "background": {"5": 2}}, "order in background of the supply is '5'"),
        ({"kv": 0.48, "mva": 20, "background": {51: 2}}, "a whole number from 2 to 50"),
    ],
)
def test_a_supply_in_python(values: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError) as refused:
        Supply(**values)
    assert told in str(refused.value)


FORMULAS = {
    "amperes for Isc/IL": (
        '=HD_VERDICT_IEEE519({1,90;5,3},100,10459,0.48,2022,"no","zero")',
        "isc_il is 10459; valid: up to 2000, 200 kA over 100 A; is it the short-circuit current itself?",
    ),
    "a voltage as fractions": (
        '=HD_VERDICT_IEEE519_VOLTAGE({5,0.03;7,0.02},0.48,2022,"zero")',
        "did you mean 3 %",
    ),
    "a voltage as fractions, EN 50160": (
        '=HD_VERDICT_EN50160({5,0.06;7,0.02},"LV","zero")',
        "did you mean 6 %",
    ),
    "one month in milliamperes": (
        "=HD_DEMAND_AMPS({100;110;120;100;110;120;100;110;120;100;110;120000})",
        "month 12 of monthly_maxima is 120000; valid: up to 100 times the median of the months, 110",
    ),
}


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_has_no_verdict(name: str) -> None:
    formula, told = FORMULAS[name]
    refused = evaluate_formula(formula, FUNCTIONS)
    assert isinstance(refused, CellError), refused
    assert told in refused.reason


@pytest.mark.parametrize(
    "formula",
    [
        '=HD_VERDICT_IEEE519({1,90;5,3},100,1500,0.48,2022,"no","zero")',
        '=HD_VERDICT_IEEE519_VOLTAGE({1,100;5,0.03;7,0.02},0.48,2022,"zero")',
        '=HD_VERDICT_IEEE519_VOLTAGE({5,0.3;7,0.02},0.48,2022,"zero")',
    ],
)
def test_small_values_that_are_usual_are_judged(formula: str) -> None:
    assert not isinstance(evaluate_formula(formula, FUNCTIONS), CellError)


def test_a_check_without_a_result_says_where_the_trouble_begins() -> None:
    """The sentence of a template names the cell of the check only, which nobody typed."""
    reasons = Reasons({("Transformers", 8, 16): CellError(ErrorCode.NUM, "")}, {}, {}, {})
    begins = reasons.cause_at("Transformers!P8")
    assert begins is not None
    assert begins.sentence == "Transformers!P8 holds the error value #NUM!"
    assert reasons.cause_at("Transformers!P9") is None
