"""What a field of the registry is called in a sheet: its name with the unit in brackets."""

from __future__ import annotations

from typing import Final

from xlcalc.schema.fields import Field
from xlcalc.schema.tables import normalised

_UNITS: Final = {
    "pct": "(%)",
    "kv": "(kV)",
    "mva": "(MVA)",
    "kva": "(kVA)",
    "kw": "(kW)",
    "volts": "(volts)",
    "amps": "(amps)",
    "deg": "(deg)",
    "pu": "(pu)",
    "hz": "(Hz)",
    "mvar": "(Mvar)",
    "m": "(m)",
    "mm": "(mm)",
    "k": "(K)",
}
_FIRST: Final = {"kv": "kV", "kw": "kW", "kva": "kVA", "kvar": "kvar"}
_WORDS: Final = {
    "x/r": "X/R",
    "dc": "DC",
    "pcc": "PCC",
    "pf": "PF",
    "z": "Z",
    "uf": "uF",
    "kwh": "kWh",
    **_FIRST,
}


def label(name: str) -> str:
    """Heading of a field, read back as the same field by the functions.

    Examples
    --------
    >>> label("transformer z pct"), label("dc choke pct"), label("utility x/r")
    ('Transformer Z (%)', 'DC choke (%)', 'Utility X/R')
    >>> label("kva"), label("max mva"), label("length m")
    ('kVA', 'Max (MVA)', 'Length (m)')
    """
    words = name.split()
    shown = [_UNITS.get(word, word) if i else word for i, word in enumerate(words)]
    text = " ".join(_WORDS.get(word, word) for word in shown)
    if words[0] not in _FIRST:
        text = text[0].upper() + text[1:]
    if normalised(text) != normalised(name):
        raise ValueError(f"the label {text!r} is not read back as {name!r}")
    return text


def default_text(field: Field) -> str:
    """What a blank cell stands for."""
    if field.required:
        return "required"
    if field.default is None:
        return "may be blank"
    return f"blank: {field.kind.show(field.default)}"
