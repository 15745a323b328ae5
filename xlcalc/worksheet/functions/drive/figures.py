"""Figures of merit of a spectrum that stands in a range."""

from __future__ import annotations

from xlcalc.core.orders_given import OrdersNotListed
from xlcalc.core.spectrum import ListedSpectrum, phasor_sum
from xlcalc.schema.inputs.quantities import DEMAND_AMPS
from xlcalc.schema.values import Grid
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.ranges import SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction
from xlcalc.worksheet.summands import LISTED_NOTE, SUMMAND_NOTE, Summand, Summands

CATEGORY = "Figures of a spectrum"
SPECTRUM = Argument("spectrum", SpectrumRange(), "Spectrum in percent of the fundamental or in amperes")


def _sum(*parts: ListedSpectrum | OrdersNotListed) -> Grid:
    summands = Summands.of("spectrum_amps", parts)
    return summands.rows(phasor_sum(summands.spectra))


FUNCTIONS = (
    WorksheetFunction(
        name="HD_THD",
        category=CATEGORY,
        summary="Total harmonic distortion of a spectrum, orders 2 to 50",
        gives="percent of the fundamental",
        arguments=(SPECTRUM,),
        implementation=lambda spectrum: spectrum.thd_pct,
        examples=(
            Example(
                "=HD_THD({1,100,0;5,20,0;7,14.2857,0})", 24.578, "root sum square of 20 and 14.2857, by hand"
            ),
        ),
        notes=LISTED_NOTE,
    ),
    WorksheetFunction(
        name="HD_TDD",
        category=CATEGORY,
        summary="Total demand distortion of a current spectrum, orders 2 to 50 (IEEE 519)",
        gives="percent of the maximum demand current",
        arguments=(
            Argument("spectrum_amps", SpectrumRange(), "Spectrum of the current in amperes"),
            Argument(
                "demand_amps",
                DEMAND_AMPS,
                "Maximum demand current IL at the PCC, fundamental, in amperes",
            ),
        ),
        implementation=lambda spectrum, demand: spectrum.tdd_pct(demand),
        examples=(
            Example("=HD_TDD({1,80,0;5,6,0;7,8,0},100)", 10.0, "root sum square of 6 and 8 A, by hand"),
        ),
        notes=LISTED_NOTE,
    ),
    WorksheetFunction(
        name="HD_NEUTRAL_AMPS",
        category=CATEGORY,
        summary="Current in the neutral of equal single-phase loads on the three phases",
        gives="amperes rms: three times the root sum square of orders 3, 6, 9, ...",
        arguments=(Argument("spectrum_amps", SpectrumRange(), "Spectrum of the current of one phase, A"),),
        implementation=lambda spectrum: spectrum.neutral_amps,
        examples=(
            Example("=HD_NEUTRAL_AMPS({1,10;3,8;5,4;9,6})", 30.0, "3 x root sum square of 8 and 6, by hand"),
        ),
        notes=f"{LISTED_NOTE} All other orders of equal phases cancel in the neutral; unequal "
        "phases add their difference.",
    ),
    WorksheetFunction(
        name="HD_KFACTOR",
        category=CATEGORY,
        summary="K-factor of a load current (UL 1561) for a transformer that carries its rated rms current",
        gives="a number, 1 for a sine",
        arguments=(SPECTRUM,),
        implementation=lambda spectrum: spectrum.k_factor(),
        examples=(
            Example(
                "=HD_KFACTOR({1,0.978,0;5,0.171,0;7,0.108,0;11,0.044,0;13,0.028,0;17,0.015,0;19,0.0098,0})",
                2.7243,
                "example spectrum of IEEE C57.110 (recalled, not read in a licensed copy)",
            ),
        ),
        notes=f"{LISTED_NOTE} K = sum of (Ih/IR)^2 h^2. IR is the rated rms current of the transformer, "
        "taken as the rms value of this spectrum; at that loading K equals the harmonic loss factor.",
    ),
    WorksheetFunction(
        name="HD_LOSS_FACTOR",
        category=CATEGORY,
        summary="Harmonic loss factor F_HL for winding eddy losses (IEEE C57.110)",
        gives="a number, 1 for a sine",
        arguments=(SPECTRUM,),
        implementation=lambda spectrum: spectrum.loss_factor,
        examples=(
            Example(
                "=HD_LOSS_FACTOR({1,0.978,0;5,0.171,0;7,0.108,0;11,0.044,0;13,0.028,0;17,0.015,0;19,0.0098,0})",
                2.7243,
                "example spectrum of IEEE C57.110 (recalled, not read in a licensed copy)",
            ),
        ),
        notes=f"{LISTED_NOTE} F_HL = sum of Ih^2 h^2 / sum of Ih^2.",
    ),
    WorksheetFunction(
        name="HD_SPECTRUM_SUM",
        category=CATEGORY,
        summary="Phasor sum of spectra in amperes, with their angles",
        gives="rows of order, amperes, angle in degrees",
        arguments=(
            Argument(
                "spectrum_amps",
                Summand(needs_angle=True),
                "Current in amperes with angles against one common reference; any number of spectra",
                repeats=True,
            ),
        ),
        implementation=_sum,
        shape=Shape(50, ("order", "A", "angle deg")),
        examples=(
            Example(
                "=INDEX(HD_SPECTRUM_SUM({1,3,0},{1,4,90}),1,2)", 5.0, "3 and 4 at a right angle, by hand"
            ),
            Example(
                '=INDEX(HD_SPECTRUM_SUM({1,50,0;5,9,0},{1,40,0},"zero"),5,2)',
                9.0,
                "the second source has no 5th, by hand",
            ),
        ),
        notes=SUMMAND_NOTE,
    ),
)
