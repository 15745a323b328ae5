"""Capacitors, commutation notches, generators and conductors."""

from __future__ import annotations

from typing import Any

from xlcalc.core.spectrum import ListedSpectrum, Spectrum
from xlcalc.equipment.capacitor import (
    CONTINUOUS,
    CapacitorRating,
    capacitor_durations,
    capacitor_standards,
    capacitor_stress,
    judge_capacitor,
)
from xlcalc.equipment.conductor import Conductor
from xlcalc.equipment.generator import generator_voltage, negative_sequence_equivalent
from xlcalc.equipment.notch import NOTCH_EDITION, Notch, judge_notch, notch_limits
from xlcalc.rectifier.drive import BASE_HZ, FrontEnd
from xlcalc.schema.assembly.front_end import filter_of, front_end_values, phase_shift_of
from xlcalc.schema.inputs.drive import accepts_uneven
from xlcalc.schema.inputs.equipment import NOTCH_CLASS
from xlcalc.schema.inputs.quantities import AMPS as ANY_AMPS
from xlcalc.schema.inputs.quantities import (
    ANY_HZ,
    BUS_VOLTS,
    DIAMETER_MM,
    EDITIONS,
    KW,
    SPACING_MM,
    SUBTRANSIENT,
)
from xlcalc.schema.inputs.supply import supply_values
from xlcalc.schema.kinds import Choice, Number
from xlcalc.schema.values import Grid
from xlcalc.standards.loader import Limit
from xlcalc.studies.notching import per_unit_notch
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.drive.spectra import CHOKE, LOAD, REACTOR, SETTINGS, SOURCE
from xlcalc.worksheet.functions.equipment.transformers import AMPS, SPECTRUM
from xlcalc.worksheet.functions.standards.verdict_rows import (
    MISSING_NOTE,
    ORDERS_NOT_LISTED,
    VERDICT_COLUMNS,
    VERDICT_GIVES,
    VERDICT_NOTE,
    VERDICT_SHAPE,
    verdict_rows,
)
from xlcalc.worksheet.ranges import SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.summands import LISTED_NOTE

CATEGORY = "Capacitors, notches, generators, conductors"
VOLTS = Argument("volts", BUS_VOLTS, "Line-to-line voltage of the bus")
HERTZ = Argument("hz", ANY_HZ, "Supply frequency")
RATED_AMPS = Argument("rated_amps", ANY_AMPS, "Rated current of the generator")

OHM_PER_KM = Argument(
    "ohm_per_km",
    Number(0, 1000, "ohm/km", above=True),
    "Direct-current resistance at operating temperature",
)

NOTCH_EDITION_ARGUMENT = Argument(
    "edition",
    EDITIONS,
    "Edition of IEEE 519; the classes are informative in 2014 and 2022",
    default=NOTCH_EDITION,
)

NOTCH_QUANTITIES = ("depth", "thd", "area")

DIAMETER = Argument(
    "diameter_mm",
    DIAMETER_MM,
    "Conductor diameter, for the proximity effect; left out: skin effect only",
    default=None,
)

SPACING = Argument(
    "spacing_mm",
    SPACING_MM,
    "Distance between conductor axes, at least the diameter; left out: skin effect only",
    default=None,
)


def _capacitor(
    volts: ListedSpectrum, rated_volts: float, standard: str, peak: str, not_listed: str, duration: str
) -> Grid:
    bank = CapacitorRating(rated_volts, rated_var=1.0)
    known = peak == "angles"
    stress = capacitor_stress(bank, volts, angles_known=known, orders_not_listed=not_listed)
    return verdict_rows(judge_capacitor(stress, standard, duration))


def _notch_verdict(
    volts: float,
    hz: float,
    kw: float,
    system_class: str,
    *circuit: Any,
) -> Grid:
    source, reactor, choke, load, settings, edition = circuit
    front_end = FrontEnd(
        pulses=6,
        source_pct=source,
        source_xr=settings["source x/r"],
        reactor_pct=reactor,
        choke_pct=choke,
        load_pct=load,
        filter=filter_of(settings),
        phase_shift_deg=phase_shift_of(settings),
        **front_end_values(settings),
        **supply_values(settings),
    )
    found = per_unit_notch(front_end, accepts_uneven(settings))
    cycle = BASE_HZ / hz
    in_volts = Notch(
        found.depth_pct, found.crest_depth_pct, volts * cycle * found.area_vs, cycle * found.width_s
    )
    return verdict_rows(judge_notch(in_volts, system_class, volts, edition))


def _notch_limit(system_class: str, quantity: str, volts: float, edition: str) -> float:
    limit: Limit = getattr(notch_limits(system_class, volts, edition), quantity)
    return limit.value


def _conductor(ohm_per_km: float, diameter_mm: float | None, spacing_mm: float | None) -> Conductor:
    diameter = None if diameter_mm is None else diameter_mm / 1e3
    return Conductor(ohm_per_km / 1e3, diameter, None if spacing_mm is None else spacing_mm / 1e3)


def _conductor_load(
    spectrum: Spectrum, ohm_per_km: float, hz: float, diameter: float | None, spacing: float | None
) -> float:
    return _conductor(ohm_per_km, diameter, spacing).permitted_pct(spectrum, hz)


def _conductor_added_kw(
    amps: Spectrum,
    ohm_per_km: float,
    metres: float,
    hz: float,
    diameter: float | None,
    spacing: float | None,
) -> float:
    return _conductor(ohm_per_km, diameter, spacing).added_watts(amps, hz, metres) / 1e3


HANDBOOK = "skin-effect table of handbooks (recalled): 1.00519, 1.07816, 1.31809 at orders 1, 4, 9; by hand"

CONDUCTOR_NOTE = (
    f"{LISTED_NOTE} Solid round conductors: skin effect exact in Bessel functions, proximity effect after "
    "Neher and McGrath (form recalled). Stranding lowers both."
)

FUNCTIONS = (
    WorksheetFunction(
        name="HD_VERDICT_CAPACITOR",
        category=CATEGORY,
        summary="Stress of a capacitor bank by IEEE 18, IEC 60831-1 or IEC 60871-1",
        gives=f"{VERDICT_GIVES}; percent of the rating",
        arguments=(
            Argument(
                "spectrum_volts",
                SpectrumRange(),
                "Line-to-line voltage at the bank in volts, with the fundamental",
            ),
            Argument("rated_volts", BUS_VOLTS, "Rated line-to-line voltage of the bank"),
            Argument(
                "standard",
                Choice(capacitor_standards()),
                "Standard and edition",
                default=capacitor_standards()[0],
            ),
            Argument(
                "peak",
                Choice(("angles", "sum")),
                "Peak voltage from the angles of the spectrum, or as the sum of all amplitudes",
                default="angles",
            ),
            ORDERS_NOT_LISTED,
            Argument(
                "duration",
                Choice(capacitor_durations()),
                "How long the voltage lasts; by the IEC standards more than the rated one is for a time only",
                default=CONTINUOUS,
            ),
        ),
        implementation=_capacitor,
        shape=VERDICT_SHAPE,
        examples=(
            Example(
                '=INDEX(HD_VERDICT_CAPACITOR({1,13800;5,552;7,414},13800,"IEEE 18-2002","sum"),3,3)',
                104.120,
                "rms current: sqrt(1 + 0.2^2 + 0.21^2), by hand",
            ),
            Example(
                '=INDEX(HD_VERDICT_CAPACITOR({1,13800;5,552;7,414},13800,"IEEE 18-2002","sum"),2,3)',
                107.0,
                "peak: 1 + 0.04 + 0.03, by hand",
            ),
            Example(
                '=INDEX(HD_VERDICT_CAPACITOR({1,420},400,"IEC 60831-1","sum","zero","8 h in 24 h"),1,5)',
                5.0,
                "110 % less 420/400, by hand",
            ),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} Rated frequency; kvar is rms voltage times rms current. The "
        "limits of IEEE 18 are meant for contingencies, not as a continuous design basis. IEC 60831-1 (up to "
        "1 kV) and IEC 60871-1 limit the fundamental voltage by its duration and the rms current (ladder "
        "recalled, no text read); without an edition the latest counts.",
    ),
    WorksheetFunction(
        name="HD_LIMIT_NOTCH",
        category=CATEGORY,
        summary="Limit of commutation notches by IEEE 519: depth, area, or the voltage THD beside them",
        gives="percent; for the area V us at the voltage of the bus",
        arguments=(
            Argument("system_class", NOTCH_CLASS.kind, NOTCH_CLASS.doc),
            Argument("quantity", Choice(NOTCH_QUANTITIES), "What to give"),
            Argument(
                "volts",
                BUS_VOLTS,
                "Line-to-line voltage of the bus, for the area",
                default=480.0,
            ),
            NOTCH_EDITION_ARGUMENT,
        ),
        implementation=_notch_limit,
        examples=(
            Example('=HD_LIMIT_NOTCH("general","depth")', 20.0, "IEEE 519-1992 Table 10.2 (one source)"),
            Example('=HD_LIMIT_NOTCH("general","thd")', 5.0, "IEEE 519-1992 Table 10.2 (one source)"),
            Example(
                '=HD_LIMIT_NOTCH("general","area",690,1992)', 32775.0, "22800 V us times 690/480, by hand"
            ),
        ),
        notes="A maker's white paper prints the limits for edition 2014 too, where they are informative; "
        "that 2022 keeps them is recalled. Compare with a licensed copy.",
    ),
    WorksheetFunction(
        name="HD_VERDICT_NOTCH",
        category=CATEGORY,
        summary="Commutation notch of a six-pulse drive at the bus ahead of it against IEEE 519",
        gives=VERDICT_GIVES,
        arguments=(
            VOLTS,
            HERTZ,
            Argument("drive_kw", KW, "Rated DC-link power of the drive"),
            Argument(
                "system_class",
                NOTCH_CLASS.kind,
                NOTCH_CLASS.doc,
            ),
            SOURCE,
            REACTOR,
            CHOKE,
            LOAD,
            SETTINGS,
            NOTCH_EDITION_ARGUMENT,
        ),
        implementation=_notch_verdict,
        shape=Shape(3, VERDICT_COLUMNS),
        examples=(
            Example(
                '=INDEX(HD_VERDICT_NOTCH(480,60,100,"general",1,3,4,100,{"source x/r",25}),1,3)',
                25.0,
                "divider 1 / (1 + 3), equal X/R on both sides, by hand",
            ),
            Example(
                '=INDEX(HD_VERDICT_NOTCH(690,50,100,"general",1,3,4,100),2,4)',
                32775.0,
                "22800 V us times 690/480, by hand",
            ),
        ),
        notes=f"{VERDICT_NOTE} Depth (percent of the voltage that would be there) and area from the computed "
        "waveform; the largest of the cycle. Zero where the pulses of the current do not overlap. The notch "
        "of diodes starts at the zero crossing of the voltage. One drive alone: equal ones that share a bus "
        "notch like one of their total rating.",
    ),
    WorksheetFunction(
        name="HD_GENERATOR_THDV",
        category=CATEGORY,
        summary="Voltage distortion of a generator that feeds a distorted current, on its reactance X''d",
        gives="percent of the rated voltage",
        arguments=(
            AMPS,
            RATED_AMPS,
            Argument(
                "subtransient_pct",
                SUBTRANSIENT,
                "Subtransient reactance X''d on the generator's rating",
            ),
        ),
        implementation=lambda amps, rated, x_pct: generator_voltage(amps, rated, x_pct / 100.0).thd_pct,
        examples=(
            Example(
                "=HD_GENERATOR_THDV({1,50;5,8.75;7,5.5;11,2.25;13,1.45;17,0.75;19,0.5;23,0.45;25,0.4},100,15)",
                10.4184,
                "root sum square of h x 0.15 x Ih, by hand",
            ),
        ),
        notes=f"{LISTED_NOTE} V_h = h X''d I_h (textbook relation; resistance and saliency left out).",
    ),
    WorksheetFunction(
        name="HD_GENERATOR_I2",
        category=CATEGORY,
        summary="Negative-sequence current that heats a generator's rotor as the harmonics do",
        gives="percent of the rated current, to compare with the continuous capability on the data sheet",
        arguments=(
            AMPS,
            RATED_AMPS,
            Argument(
                "negative_sequence_amps",
                Number(0, 1e6, "A"),
                "Negative-sequence fundamental from unbalance",
                default=0.0,
            ),
        ),
        implementation=negative_sequence_equivalent,
        examples=(
            Example(
                "=HD_GENERATOR_I2({1,100;5,10;7,10},100)",
                26.3215,
                "both at order 6 in the rotor: (10 + 10) x sqrt(sqrt(6/2)), by hand",
            ),
        ),
        notes=f"{LISTED_NOTE} Rotor loss with the square of the current and the root of the frequency in "
        "the rotor: order h + 1 for h = 5, 11, ..., h - 1 for h = 7, 13, ...; what meets at one order adds "
        "(textbook relation, in phase at worst).",
    ),
    WorksheetFunction(
        name="HD_CONDUCTOR_LOAD",
        category=CATEGORY,
        summary="Permitted rms current of a conductor under harmonics, by skin and proximity effect",
        gives="percent of the rated fundamental current",
        arguments=(SPECTRUM, OHM_PER_KM, HERTZ, DIAMETER, SPACING),
        implementation=_conductor_load,
        examples=(Example("=HD_CONDUCTOR_LOAD({1,100;4,30;9,20},0.1256637,50)", 99.1704, HANDBOOK),),
        notes=CONDUCTOR_NOTE,
    ),
    WorksheetFunction(
        name="HD_CONDUCTOR_ADDED_KW",
        category=CATEGORY,
        summary="Loss that the harmonics add in the three phase conductors of a circuit",
        gives="kW",
        arguments=(
            AMPS,
            OHM_PER_KM,
            Argument("metres", Number(0, 1e6, "m"), "Length of the circuit"),
            HERTZ,
            DIAMETER,
            SPACING,
        ),
        implementation=_conductor_added_kw,
        examples=(
            Example("=HD_CONDUCTOR_ADDED_KW({1,100;4,30;9,20},0.1256637,1000,50)", 0.564577, HANDBOOK),
        ),
        notes=CONDUCTOR_NOTE,
    ),
)
