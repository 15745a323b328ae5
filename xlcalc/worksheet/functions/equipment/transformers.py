"""Transformers under harmonic load."""

from __future__ import annotations

from xlcalc.core.spectrum import Spectrum
from xlcalc.equipment import transformer
from xlcalc.equipment.transformer import LiquidTransformer, Winding
from xlcalc.schema.inputs.quantities import AMPS as ANY_AMPS
from xlcalc.schema.inputs.quantities import RISE, SHARE
from xlcalc.schema.kinds import Choice, Number
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.ranges import SpectrumRange
from xlcalc.worksheet.registry import Example, WorksheetFunction
from xlcalc.worksheet.summands import LISTED_NOTE

CATEGORY = "Transformers"
SPECTRUM = Argument("spectrum", SpectrumRange(), "Load current in amperes or percent; only its shape counts")
AMPS = Argument("spectrum_amps", SpectrumRange(), "Load current in amperes")

EDDY = Argument(
    "eddy_pct",
    SHARE,
    "Winding eddy-current loss at rated current, percent of the ohmic loss (P_EC-R; hottest spot)",
)

C57_110 = "{1,0.978;5,0.171;7,0.108;11,0.044;13,0.028;17,0.015;19,0.0098}"


def _liquid(
    spectrum: Spectrum, eddy: float, stray: float, no_load: float, top_oil: float, gradient: float
) -> float:
    tank = LiquidTransformer(eddy / 100.0, stray / 100.0, no_load / 100.0, top_oil, gradient)
    return transformer.permitted_liquid(tank, spectrum).value


def _added_kw(spectrum: Spectrum, rated: float, ohmic_kw: float, eddy: float, stray: float) -> float:
    watts = transformer.added_load_watts(spectrum, rated, 1e3 * ohmic_kw, eddy / 100.0, stray / 100.0)
    return watts / 1e3


FUNCTIONS = (
    WorksheetFunction(
        name="HD_TRANSFORMER_LOAD_DRY",
        category=CATEGORY,
        summary="Permitted rms load current of a dry-type transformer (IEEE C57.110)",
        gives="percent of the rated current",
        arguments=(SPECTRUM, EDDY),
        implementation=lambda spectrum, eddy: transformer.permitted_dry(spectrum, eddy / 100.0).value,
        examples=(
            Example(
                f"=HD_TRANSFORMER_LOAD_DRY({C57_110},15)",
                90.35,
                "example spectrum of IEEE C57.110 (recalled); result by hand from F_HL 2.7243",
            ),
        ),
        notes=f"{LISTED_NOTE} sqrt((1 + P) / (1 + F_HL P)) (formula recalled, not read in a licensed copy).",
    ),
    WorksheetFunction(
        name="HD_TRANSFORMER_LOAD_LIQUID",
        category=CATEGORY,
        summary="Permitted rms load current of a liquid-filled transformer by its temperature rises",
        gives="percent of the rated current",
        arguments=(
            SPECTRUM,
            EDDY,
            Argument("stray_pct", SHARE, "Other stray loss at rated current, percent of the ohmic loss"),
            Argument("no_load_pct", SHARE, "No-load loss, percent of the ohmic loss at rated current"),
            Argument("top_oil_k", RISE, "Rated rise of the top oil over ambient"),
            Argument("gradient_k", RISE, "Rated rise of the winding over the top oil"),
        ),
        implementation=_liquid,
        examples=(
            Example(
                "=HD_TRANSFORMER_LOAD_LIQUID({1,100;5,20},10,20,30,55,25)",
                95.9354,
                "top oil at its rated rise: sqrt(1.3 / (1 + 0.1 x 1.92308 + 0.2 x 1.10092)), by hand",
            ),
        ),
        notes=f"{LISTED_NOTE} The largest current at which neither the top oil nor the winding is warmer "
        "than at rated sinusoidal load: oil rise with the 0.8th power of the total loss, winding gradient "
        "with the 0.8th power of the winding loss (IEEE C57.110; exponents recalled, the last with moderate "
        "confidence).",
    ),
    WorksheetFunction(
        name="HD_FACTOR_K",
        category=CATEGORY,
        summary="European factor K of a load current: the transformer carries 1/K of its rated current",
        gives="a number, 1 for a sine",
        arguments=(
            SPECTRUM,
            Argument("eddy_pct", SHARE, "Eddy loss at rated fundamental current, percent of the ohmic loss"),
            Argument(
                "winding",
                Choice(tuple(Winding)),
                "Conductor of the windings: exponent 1.7 or 1.5",
                default=Winding.WIRE.value,
            ),
        ),
        implementation=lambda spectrum, eddy, winding: (
            transformer.european_factor_k(spectrum, eddy / 100.0, Winding(winding)).value
        ),
        examples=(
            Example(
                "=HD_FACTOR_K({1,1,0;5,0.2,0;7,0.14,0;11,0.091,0;13,0.077,0;17,0.058,0;19,0.056,0;"
                "23,0.043,0;25,0.04,0},10.011)",
                1.1467,
                "public worked example, from its printed terms without the fundamental",
            ),
        ),
        notes=f"{LISTED_NOTE} Not the K-factor of UL 1561, which is HD_KFACTOR.",
    ),
    WorksheetFunction(
        name="HD_K_RATING",
        category=CATEGORY,
        summary="Smallest standard K rating of a transformer that covers a K-factor (UL 1561)",
        gives="4, 9, 13, 20, 30, 40 or 50 (1: none needed); #NUM! above 50",
        arguments=(Argument("k_factor", Number(0, 1e4), "K-factor of the load, from HD_KFACTOR"),),
        implementation=lambda k_factor: transformer.k_rating(k_factor).value,
        examples=(Example("=HD_K_RATING(8.35)", 9.0, "standard ratings (one secondary source)"),),
    ),
    WorksheetFunction(
        name="HD_TRANSFORMER_ADDED_KW",
        category=CATEGORY,
        summary="Load loss that the harmonics add in a transformer",
        gives="kW",
        arguments=(
            AMPS,
            Argument("rated_amps", ANY_AMPS, "Rated current on the same side"),
            Argument(
                "ohmic_kw", Number(0, 1e5, "kW"), "Ohmic loss of the windings at rated current, three phases"
            ),
            EDDY,
            Argument("stray_pct", SHARE, "Other stray loss, percent of the ohmic loss", default=0.0),
        ),
        implementation=_added_kw,
        examples=(
            Example(
                "=HD_TRANSFORMER_ADDED_KW({1,100;5,20},100,1,10)", 0.14, "1 kW x 0.04 x (1 + 2.5), by hand"
            ),
        ),
        notes=f"{LISTED_NOTE} Ohmic loss grows with the square of the current, eddy loss with h^2 and other "
        "stray loss with h^0.8 besides (IEEE C57.110). Here the average eddy loss belongs, not that of the "
        "hottest spot.",
    ),
)
