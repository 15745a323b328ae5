"""Where and how a plant is judged, from checked settings."""

from __future__ import annotations

from xlcalc.schema.fields import attributes
from xlcalc.schema.inputs.settings import JUDGED_BY
from xlcalc.schema.tables import Values
from xlcalc.studies.pcc import PccOptions


def pcc_options(
    bus: str, demand_amps: float | None, settings: Values, raise_other_limits: bool = False
) -> PccOptions:
    """Edition, summation and kind of installation of the settings, at one PCC.

    Parameters
    ----------
    bus : str
        The PCC.
    demand_amps : float, optional
        Its maximum demand current; None: not typed.
    settings : mapping
        Checked values of a study or of one of its cases.
    raise_other_limits : bool
        As in `PccOptions`.
    """
    return PccOptions(
        bus,
        demand_amps=demand_amps,
        raise_other_limits=raise_other_limits,
        **attributes(JUDGED_BY, settings, PccOptions),
    )
