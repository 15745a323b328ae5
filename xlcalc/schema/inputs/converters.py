"""Tables of active front ends, and of inverters on a common DC bus."""

from __future__ import annotations

from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.quantities import EFFICIENCY_PCT, KVA, KVAR, KW
from xlcalc.schema.kinds import Choice, Number, Text, Whole
from xlcalc.schema.tables import Records

NAME = Field("name", Text(), "Name, each once")
BUS = Field("bus", Text(), "Bus it is connected to")
ORDERS_NOT_LISTED = Field(
    "orders not listed",
    Choice(("not given", "zero")),
    "What orders without a row in its spectrum are; not given: no PASS rests on them",
    "not given",
)

ACTIVE_FRONT_ENDS = Records(
    (
        NAME,
        BUS,
        Field("kva", KVA, "Rating"),
        Field(
            "kw",
            Number(-1e6, 1e6, "kW"),
            "Active power from the line; negative: fed back. Its harmonics stand in the table of spectra. "
            "Blank: that of its inverters",
            None,
        ),
        Field(
            "kvar",
            KVAR,
            "Reactive power that the converter delivers, without its filter; negative: takes",
            0.0,
        ),
        Field(
            "filter kvar",
            Number(0, 1e6, "kvar"),
            "LCL filter: its capacitors at the bus voltage; connected in standby too. 0: none",
        ),
        Field(
            "line reactor pct",
            Number(0, 50, "%"),
            "LCL filter: reactor on the side of the line, on the rating",
            0.0,
        ),
        Field("damping pct", Number(0, 100, "%"), "LCL filter: resistor in series with its capacitors", 0.0),
        Field(
            "state",
            Choice(("running", "standby")),
            "standby: the converter is blocked, its filter stays connected",
            "running",
        ),
        ORDERS_NOT_LISTED,
    ),
    key="name",
)

INVERTERS = Records(
    (
        NAME,
        Field("front end", Text(), "Drive of the schedule, or active front end, on whose DC bus it stands"),
        Field("quantity", Whole(1, 1000), "How many of them", 1),
        Field("kw", KW, "Rated shaft output"),
        Field(
            "efficiency pct", EFFICIENCY_PCT, "Shaft output per DC power; blank: typical for the rating", None
        ),
        Field(
            "load pct",
            Number(-200, 200, "%"),
            "Of the rated shaft output; negative: it brakes and feeds the others. All together are the load "
            "of the front end, whose DC capacitance counts as that of its own rating",
            100.0,
        ),
    ),
    key="name",
)
