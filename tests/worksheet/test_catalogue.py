"""The catalogue names every declared function once, under the module that declares it."""

from __future__ import annotations

import pkgutil
import subprocess
import sys
from importlib import import_module

import pytest

from xlcalc.worksheet import functions
from xlcalc.worksheet.catalogue import DECLARED, FUNCTIONS

MODULES = sorted(module.name for module in pkgutil.iter_modules(functions.__path__))


@pytest.mark.parametrize("name", MODULES)
def test_every_function_of_a_module_is_listed(name):
    module = import_module(f"xlcalc.worksheet.functions.{name}")
    declared = [function.name for function in getattr(module, "FUNCTIONS", ())]
    assert DECLARED.get(name, "").split() == declared


def test_no_module_or_name_is_listed_in_vain():
    assert set(DECLARED) <= set(MODULES)
    names = " ".join(DECLARED.values()).split()
    assert list(FUNCTIONS) == names
    assert len(set(names)) == len(names)
    assert {name: function.name for name, function in FUNCTIONS.items()} == {name: name for name in names}


def test_unknown_name_is_a_key_error():
    assert "HD_NO_SUCH" not in FUNCTIONS
    with pytest.raises(KeyError, match="HD_NO_SUCH"):
        FUNCTIONS["HD_NO_SUCH"]


def test_a_function_loads_its_own_rooms_only():
    code = (
        "import sys; from xlcalc.worksheet.catalogue import FUNCTIONS\n"
        "assert 'HD_CHOICE' in FUNCTIONS\n"
        "FUNCTIONS['HD_SPECTRUM'], FUNCTIONS['HD_THD']\n"
        "rooms = {name.split('.')[1] for name in sys.modules if name.startswith('xlcalc.')}\n"
        "print(sorted(rooms & {'mitigation', 'study', 'network', 'equipment', 'standards'}))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
