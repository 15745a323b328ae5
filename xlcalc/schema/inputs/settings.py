"""Names of `settings`, of a study and of its cases."""

from __future__ import annotations

from typing import Final

from xlcalc.core import plausible
from xlcalc.schema.fields import Field
from xlcalc.schema.inputs.drive import drive_fields
from xlcalc.schema.inputs.owners import IN_NODAL_NETWORK, IN_PCC_OPTIONS
from xlcalc.schema.inputs.quantities import EDITIONS, LOAD_PCT, MAINS_HZ
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.schema.tables import NamedValues
from xlcalc.standards.ieee519 import Installation
from xlcalc.standards.supply_presets import preset_names

SOLUTION = Field(
    "solution",
    Choice(("coupled", "uncoupled")),
    "Whether the distorted bus voltage acts back on the drives",
    default="coupled",
)

SUPPLY = Field(
    "supply",
    Choice(preset_names()),
    "Levels to judge besides the supply as it is where unbalance or background are blank; ideal: none; "
    "blank: typical",
    default=None,
)

DEMAND_ESTIMATED = Field(
    "demand amps estimated",
    Number(0, 1e6, "A"),
    "Largest fundamental at the PCC over all cases; the demand current where none is typed",
    default=None,
)

ESTIMATED_ITSELF = "blank in a file: it is computed from all cases; a known IL is 'demand amps'"

EDITION = Field("edition", EDITIONS, "Edition of IEEE 519", default="2022", fills=IN_PCC_OPTIONS("edition"))

INSTALLATION = Field(
    "installation",
    Choice(tuple(Installation)),
    "What the PCC connects; IEEE 519 gives power generation the first row of limits whatever Isc/IL is",
    default=Installation.LOAD.value,
    fills=IN_PCC_OPTIONS("installation"),
)

INVERTER_PCT = Field(
    "inverter pct",
    Number(0, 1e4, "%", usual=plausible.INVERTER_PCT),
    "Inverter-based generation of the site, percent of its annual average load; blank: none",
    default=None,
    fills=IN_PCC_OPTIONS("inverter_pct"),
)

GENERATION_FIELDS = (INSTALLATION, INVERTER_PCT)

PLANT_SETTINGS = NamedValues(
    (
        SOLUTION,
        EDITION,
        Field(
            "summation",
            Choice(("phasor", "arithmetic")),
            "How the drives add up",
            default="phasor",
            fills=IN_PCC_OPTIONS("summation"),
        ),
        SUPPLY,
        DEMAND_ESTIMATED,
        *drive_fields(supply_level_pct=None),
        *GENERATION_FIELDS,
    )
)

CASE_FIELDS = (
    SOLUTION,
    Field(
        "short circuit",
        Choice(("maximum", "minimum")),
        "Short-circuit level of the utility",
        default="maximum",
    ),
    Field(
        "generators",
        Choice(("on", "off", "alone")),
        "In parallel with the utility, not running, or feeding the plant without the utility",
        default="on",
    ),
    Field("capacitors", Choice(("on", "off")), "Capacitor banks and filters", default="on"),
    Field(
        "out of service",
        Text(),
        "Elements and buses that are out of service, with semicolons between their names",
        default=None,
    ),
    Field("loads", Choice(("on", "off")), "Linear and motor loads, and loads with a spectrum", default="on"),
    Field("drive load pct", LOAD_PCT, "Load of all drives, of what the schedule says", default=100.0),
    Field(
        "drive loads",
        Text(),
        "Drives with a load of their own: tag and percent of the rating, or off, with semicolons between",
        default=None,
    ),
    Field(
        "share of year pct",
        Number(0, 100, "%"),
        "Share of the year in which the case holds; blank: not known",
        default=None,
    ),
)

SUMMATION = Field(
    "summation",
    Choice(("phasor", "arithmetic", "exponents")),
    "How the sources add up; exponents: IEC 61000-3-6",
    default="phasor",
    fills=IN_PCC_OPTIONS("summation"),
)

JUDGED_BY = (EDITION, SUMMATION, *GENERATION_FIELDS)
"""The fields that say how a PCC is judged."""

STUDY_FIELDS = (
    EDITION,
    SUMMATION,
    SUPPLY,
    Field(
        "frequency hz",
        Number(10, 400, "Hz", usual=plausible.FREQUENCY_HZ),
        "Supply frequency",
        default=60.0,
        fills=IN_NODAL_NETWORK("hz"),
    ),
    Field(
        "resistance exponent",
        Number(0, 1),
        "Growth of resistances with order: 0 constant, 0.5 skin effect, 1 constant X/R",
        default=0.0,
        fills=IN_NODAL_NETWORK("resistance_exponent"),
    ),
)

SUPPLY_AND_DRIVE_FIELDS = (*drive_fields(supply_level_pct=None), *GENERATION_FIELDS)
NETWORK_SETTINGS = NamedValues((*CASE_FIELDS, *STUDY_FIELDS, DEMAND_ESTIMATED, *SUPPLY_AND_DRIVE_FIELDS))

TITLE_FIELDS: Final = (
    Field("title", Text(), "Title of the study", default=None),
    Field("client", Text(), "For whom the study is", default=None),
    Field("project", Text(), "Project or plant", default=None),
    Field("document number", Text(), "Number of the document", default=None),
    Field("revision", Text(), "Its revision", default=None),
    Field("date", Text(), "Date of the study", default=None),
    Field("prepared by", Text(), "Who made it", default=None),
    Field("checked by", Text(), "Who checked it", default=None),
    Field("approved by", Text(), "Who answers for it", default=None),
    Field("remark", Text(), "Anything a reader should know", default=None),
)

STUDY: Final = NamedValues(
    (*TITLE_FIELDS, Field("frequency hz", MAINS_HZ, "Supply frequency, for reactors in mH", default=60.0))
)

CASE_NAME: Final = Field("name", Text(), "Name of the case", default=None)
