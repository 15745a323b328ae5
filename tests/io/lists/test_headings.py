"""Headings as people write them."""

from __future__ import annotations

import pytest

from xlcalc.io.lists.headings import FIELDS, close_to, list_of_headings, recognise
from xlcalc.schema.inputs.drive import DRIVES
from xlcalc.workbooks.kit.labels import label


@pytest.mark.parametrize(
    ("text", "field", "unit"),
    [
        ("Tag No.", "tag", None),
        ("% load", "load pct", None),
        ("AC line reactor (%)", "line reactor pct", "%"),
        ("Rated HP", "rating", "hp"),
        ("kW rating", "rating", "kW"),
        ("VFD no.", "tag", None),
        ("Served from", "bus", None),
        ("MOTOR HP", "rating", "hp"),
        ("Rating (kW)", "rating", "kW"),
        ("Rated power, HP", "rating", "hp"),
        ("Motor rating [hp]", "rating", "hp"),
        ("Power in kW", "rating", "kW"),
        ("kW", "rating", "kW"),
        ("Qty", "quantity", None),
        ("No. of drives", "quantity", None),
        ("Voltage (kV)", "volts", "V"),
        ("V", "volts", "V"),
        ("Line reactor (%)", "line reactor pct", "%"),
        ("AC choke %", "line reactor pct", "%"),
        ("DC-link choke, %", "dc choke pct", "%"),
        ("Load factor (%)", "load pct", "%"),
        ("Pulse no.", "pulses", None),
        ("Cable length (m)", None, None),
        ("Speed (rpm)", None, None),
        ("Rating (rpm)", None, None),
    ],
)
def test_meaning_and_unit(text, field, unit):
    found = recognise(text)
    assert (found.field if found else None) == field
    assert (found.unit.written if found and found.unit else None) == unit


@pytest.mark.parametrize("field", [field.name for field in DRIVES.fields])
def test_headings_of_the_template_are_known(field):
    for text in (field, label(field)):
        assert recognise(text).field == field


def test_every_listed_heading_means_its_field_and_no_other():
    listed = list_of_headings()
    assert set(listed) == set(FIELDS)
    everything = [text for texts in listed.values() for text in texts]
    assert len(everything) == len(set(everything))
    for field, texts in listed.items():
        assert all(recognise(text).field == field for text in texts)


def test_a_misspelling_is_told_from_another_column():
    assert close_to("Line reacter (%)") == "line reactor pct"
    assert close_to("Pulsses") == "pulses"
    for other in ("Colour", "Cable length", "Area", "P&ID", "Speed", "Location", "Enclosure"):
        assert close_to(other) is None
