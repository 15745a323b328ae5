"""Names that the sheets of the plant template share, beyond those of the drive study."""

from __future__ import annotations

from typing import Final

STUDY_SHEET: Final = "Study"
NETWORK_SHEET: Final = "Network"
CASES_SHEET: Final = "Cases"
IMPEDANCE_SHEET: Final = "Impedance"
EQUIPMENT_SHEET: Final = "Equipment"
CASE_SETTINGS_SHEET: Final = "Case settings"

NETWORK: Final = "network"
VIEW_CASE: Final = "view_case"
VIEW_BUS: Final = "view_bus"
VIEW_NAME: Final = "view_name"
SCAN_BUS: Final = "scan_bus"
VIEW: Final = "view_settings"
VIEW_QUICK: Final = "view_quick"
VIEW_OPEN: Final = "view_open"
CAPACITOR_STANDARD: Final = "capacitor_standard"

CASES: Final = 4


def case_settings(number: int, quick: bool = False) -> str:
    """Name of the settings of a case, numbers from 1."""
    return f"case_{number}_{'quick' if quick else 'coupled'}"


def column(table: str, field: str) -> str:
    """Name of a column of a table of the network.

    Examples
    --------
    >>> column("buses", "kv"), column("transformers", "to bus")
    ('buses_kv', 'transformers_to_bus')
    """
    return f"{table}_{field}".replace(" ", "_").replace("/", "_")
