"""The catalogue has every declared function once and loads no more than it is asked for."""

from __future__ import annotations

import keyword
import pkgutil
import subprocess
import sys
from dataclasses import replace
from importlib import import_module

import pytest

from xlcalc.worksheet import functions
from xlcalc.worksheet.catalogue import FUNCTIONS, MODULES

PACKAGE = f"{functions.__name__}."
FOUND = sorted(
    module.name.removeprefix(PACKAGE) for module in pkgutil.walk_packages(functions.__path__, PACKAGE)
)


def test_every_module_with_functions_is_listed():
    found = [
        name for name in FOUND if hasattr(import_module(f"xlcalc.worksheet.functions.{name}"), "FUNCTIONS")
    ]
    assert sorted(MODULES) == found


def test_every_function_is_there_once_under_its_name_in_the_order_of_the_modules():
    modules = [import_module(f"xlcalc.worksheet.functions.{name}") for name in MODULES]
    declared = [function.name for module in modules for function in module.FUNCTIONS]
    assert list(FUNCTIONS) == declared
    assert len(set(declared)) == len(declared) == len(FUNCTIONS)
    assert all(function.name == name for name, function in FUNCTIONS.items())


def test_unknown_name_is_a_key_error():
    assert "HD_NO_SUCH" not in FUNCTIONS
    with pytest.raises(KeyError, match="HD_NO_SUCH"):
        FUNCTIONS["HD_NO_SUCH"]


def test_a_function_loads_its_own_rooms_only():
    code = (
        "import sys; from xlcalc.worksheet.catalogue import FUNCTIONS\n"
        "assert 'SUM' not in FUNCTIONS\n"
        "FUNCTIONS['HD_SPECTRUM'], FUNCTIONS['HD_THD']\n"
        "rooms = {name.split('.')[1] for name in sys.modules if name.startswith('xlcalc.')}\n"
        "print(sorted(rooms & {'mitigation', 'studies', 'network', 'equipment', 'standards'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_texts_that_a_function_wizard_would_cut_off_are_refused():
    """255 characters: the limit of Excel for the description of a function."""
    function = FUNCTIONS["HD_THD"]
    room = 255 - len(function.about)
    longest = replace(function, gives=function.gives + "x" * room)
    assert len(longest.about) == 255
    with pytest.raises(ValueError, match="HD_THD: help text longer than 255 characters"):
        replace(function, gives=function.gives + "x" * (room + 1))


def test_argument_names_can_be_parameters() -> None:
    """As hosts that define a Python function for each need them."""
    names = {argument.name for function in FUNCTIONS.values() for argument in function.arguments}
    assert not [name for name in names if not name.isidentifier() or keyword.iskeyword(name)]
