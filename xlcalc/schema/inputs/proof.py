"""Inputs of a field proof: what was recorded, and what its currents are judged by."""

from __future__ import annotations

from typing import Final

from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.quantities import AMPS, EDITIONS, KV
from xlcalc.schema.inputs.settings import TITLE_FIELDS
from xlcalc.schema.kinds import Number

PROOF_FIELDS: Final = (
    *TITLE_FIELDS,
    Field("nominal kv", KV, "Line-to-line voltage where was recorded; picks the table", default=None),
    Field("demand amps", AMPS, "Maximum demand current IL", default=None),
    Field(
        "isc/il",
        Number(0, 1e6, above=True),
        "Short-circuit over demand current; picks the row of the limits",
        default=None,
    ),
    Field("edition", EDITIONS, "Edition of IEEE 519", default="2022"),
    Field(
        "base amps",
        AMPS,
        "What 100 % is in the sheet Values; blank: the demand current, whatever it is",
        default=None,
    ),
)
