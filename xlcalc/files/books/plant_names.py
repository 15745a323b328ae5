"""Names that the sheets of the plant template share, beyond those of the drive study."""

from __future__ import annotations

import re
from typing import Final

STUDY_SHEET: Final = "Study"
NETWORK_SHEET: Final = "Network"
CASES_SHEET: Final = "Cases"
IMPEDANCE_SHEET: Final = "Impedance"
DATA_SHEET: Final = "Equipment data"
TRANSFORMER_SHEET: Final = "Transformers"
EQUIPMENT_SHEET: Final = "Equipment"
LEVELS_SHEET: Final = "Other limits"
POWER_SHEET: Final = "Power and losses"

NETWORK: Final = "network"
VIEW_CASE: Final = "view_case"
VIEW_BUS: Final = "view_bus"
VIEW_NAME: Final = "view_name"
SCAN_BUS: Final = "scan_bus"
VIEW: Final = "view_settings"
WORST_ITEM: Final = "worst_item"
SENTENCE: Final = "study_sentence"
DECIDING_PCC: Final = "deciding_pcc"
DECIDING_CASE: Final = "deciding_case"
DECIDING: Final = "deciding_settings"
VIEW_JUDGED: Final = "view_judged"
VIEW_QUICK: Final = "view_quick"
VIEW_OPEN: Final = "view_open"
NOTCH_CLASS: Final = "notch_class"
CURRENCY: Final = "currency"
LOAD_PROFILE: Final = "load_profile"
CHOICES: Final = {"system_class": NOTCH_CLASS, "currency": CURRENCY}
"""Cells of the single values of the sheet Equipment data, by field."""

CASES: Final = 4
PCCS: Final = 2
"""Buses that the sheet Cases judges in every case."""


def case_settings(number: int, quick: bool = False) -> str:
    """Name of the settings of a case, numbers from 1."""
    return f"case_{number}_{'quick' if quick else 'coupled'}"


def pcc_settings(pcc: int, case: int, quick: bool = False) -> str:
    """Name of the settings of a case for a PCC of the sheet Cases, numbers from 1."""
    return f"pcc_{pcc}_{case_settings(case, quick)}"


def pcc_bus(number: int) -> str:
    """Name of the cell with the bus of a PCC of the sheet Cases, numbers from 1."""
    return f"pcc_{number}"


def case_inputs(number: int) -> str:
    """Name of the cells with the inputs of a case, numbers from 1."""
    return f"case_{number}_inputs"


def column(table: str, field: str) -> str:
    """Name of a column of a table of the network.

    Examples
    --------
    >>> column("buses", "kv"), column("transformers", "to bus")
    ('buses_kv', 'transformers_to_bus')
    """
    return re.sub(r"[ /-]", "_", f"{table}_{field}")
