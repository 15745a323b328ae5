"""The cheapest mix of front ends, filters and banks that passes, as functions of a sheet."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from xlcalc.schema.assembly.choice import plant_problem
from xlcalc.schema.assembly.options import options_of_sheet
from xlcalc.schema.assembly.terms import terms_from
from xlcalc.schema.inputs.options import OPTIONS
from xlcalc.schema.inputs.terms import TERMS, TERMS_TABLES
from xlcalc.schema.kinds import Choice as Words
from xlcalc.schema.tables import Tables, Values
from xlcalc.schema.values import Grid, Scalar
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.plant.plant_study import (
    DRIVES_ARGUMENT,
    EXAMPLE_DRIVES,
    EXAMPLE_NETWORK,
    NETWORK_ARGUMENT,
    SETTINGS_ARGUMENT,
)
from xlcalc.worksheet.no_verdict import no_verdict
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

if TYPE_CHECKING:
    from xlcalc.mitigation.choice import ChosenMix


CATEGORY = "Choice of mitigation"

COLUMNS = (
    "drive",
    "bus",
    "option",
    "purchase",
    "cost of losses",
    "cost",
    "TDD %",
    "margin %",
    "proof gap %",
)

QUANTITIES = Words(
    (
        "VERDICT",
        "COST",
        "PURCHASE",
        "LOSSES",
        "KWH",
        "AREA",
        "TDD",
        "TDD_ALONE",
        "MARGIN",
        "GAP",
        "BOUND",
        "BINDING",
        "MIX",
        "REMEDIES",
        "PRICES",
        "REASON",
        "REMARKS",
    )
)

_LONG = "up to a minute, xlcalc choose does it on the command line"


@dataclass(frozen=True, eq=False)
class _Question:
    """Arguments that are one question; equal ones are answered once."""

    tables: Tables
    drives: Sequence[Values]
    options: Tables
    terms: Tables
    settings: Values

    @property
    def text(self) -> str:
        return repr((self.tables, self.drives, self.options, self.terms, sorted(self.settings.items())))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Question) and self.text == other.text

    def __hash__(self) -> int:
        return hash(self.text)


@lru_cache(maxsize=8)
def _answered(question: _Question) -> ChosenMix:
    from xlcalc.mitigation.choose import ChoiceOptions, choose
    from xlcalc.mitigation.milp.search import Effort

    options = options_of_sheet(question.options, "options")
    terms = terms_from(question.terms, question.drives, "terms")
    problem = plant_problem(question.tables, question.drives, question.settings, options, terms)
    row = question.terms[TERMS][0]
    choice_options = ChoiceOptions(
        coupled=question.settings["solution"] == "coupled",
        rely_on_coupling=terms.rely_on_coupling,
        front_points=0,
        runners=0,
        effort=Effort(row["gap pct"], row["seconds"]),
    )
    return choose(problem, choice_options)


def clear_cache() -> None:
    """Forget answers, so that a benchmark chooses again."""
    _answered.cache_clear()


def _rows(tables: Tables, drives: Sequence[Values], options: Tables, terms: Tables, settings: Values) -> Grid:
    choice = _answered(_Question(tables, drives, options, terms, settings))
    rows: Grid = []
    for item in choice.mix_table().to_dict("records"):
        cost = item["purchase"] + item["losses"]
        rows.append(
            [item["tag"], item["bus"], item["option"], item["purchase"], item["losses"], cost, "", "", ""]
        )
    mix = choice.mix
    rows.append(
        [
            "total",
            "",
            choice.word,
            mix.purchase,
            mix.loss_cost,
            mix.cost,
            choice.assessment.tdd_pct,
            choice.assessment.margin_left_pct,
            _finite(choice.proof.gap_pct),
        ]
    )
    return rows


def _value(
    tables: Tables,
    drives: Sequence[Values],
    options: Tables,
    terms: Tables,
    quantity: str,
    settings: Values,
) -> float | str:
    choice = _answered(_Question(tables, drives, options, terms, settings))
    mix = choice.mix
    values: dict[str, Callable[[], Scalar]] = {
        "VERDICT": lambda: choice.word,
        "COST": lambda: mix.cost,
        "PURCHASE": lambda: mix.purchase,
        "LOSSES": lambda: mix.loss_cost,
        "KWH": lambda: mix.kwh_per_year,
        "AREA": lambda: mix.footprint_m2,
        "TDD": lambda: choice.assessment.tdd_pct,
        "TDD_ALONE": lambda: choice.alone.tdd_pct,
        "MARGIN": lambda: choice.assessment.margin_left_pct,
        "GAP": lambda: _finite(choice.proof.gap_pct),
        "BOUND": lambda: _finite(choice.proof.bound),
        "BINDING": lambda: choice.assessment.text,
        "MIX": lambda: mix.text,
        "REMEDIES": lambda: _remedies(choice),
        "PRICES": lambda: choice.price_note,
        "REASON": lambda: choice.reason,
        "REMARKS": lambda: "; ".join(choice.cautions) or "none",
    }
    return values[quantity]()  # type: ignore[return-value]


def _remedies(choice: ChosenMix) -> str:
    """Filters and banks with their buses."""
    bought = [f"{item.name} on {bus}" for bus, item in choice.mix.filters.items()]
    bank = choice.mix.bank
    return "; ".join([*bought, *([bank.name] if bank else [])]) or "none"


def _finite(value: float) -> Scalar:
    """Nothing passes: there is no bound and no gap."""
    return float(value) if math.isfinite(value) else "none"


OPTIONS_ARGUMENT = Argument("options", OPTIONS, "What can be bought, tables below each other")
TERMS_ARGUMENT = Argument("terms", TERMS_TABLES, "Tariff, margin, PCCs, cases, pins and places")

EXAMPLE_OPTIONS = (
    '{"front ends","","","","";"option","pulses","line reactor pct","price a","price b";'
    '"none",6,"",0,0;"reactor",6,5,100,10;"18-pulse",18,"",500,100}'
)

EXAMPLE_TERMS = '{"general terms","";"price per kwh","margin pct";0.1,0}'
_GIVEN = f"{EXAMPLE_NETWORK},{EXAMPLE_DRIVES},{EXAMPLE_OPTIONS},{EXAMPLE_TERMS}"

FUNCTIONS = (
    WorksheetFunction(
        name="HD_CHOICE",
        category=CATEGORY,
        summary="The mix of front ends, filters and banks of least cost that meets the limits in every case; "
        f"{_LONG}",
        gives="one row per drive, filter and bank, and a row of totals with TDD, margin and proof gap",
        arguments=(NETWORK_ARGUMENT, DRIVES_ARGUMENT, OPTIONS_ARGUMENT, TERMS_ARGUMENT, SETTINGS_ARGUMENT),
        implementation=_rows,
        shape=Shape(None, COLUMNS),
        examples=(Example(f"=INDEX(HD_CHOICE({_GIVEN}),1,1)", "P1", "the schedule itself"),),
        notes="Cost: purchase, and losses over the stated years at the stated tariff. Front ends of the "
        "schedule are replaced by the options unless a pin says: as scheduled. The mix is studied again "
        "coupled (setting solution: uncoupled leaves that out). Where nothing passes the nearest mix is "
        "given and the word in the row of totals says so. Proof gap: no passing mix is cheaper by more. "
        "A bought bank stays in service where a case takes capacitors out.",
    ),
    WorksheetFunction(
        name="HD_CHOICE_VALUE",
        category=CATEGORY,
        summary=f"One number or text of the mix of least cost that meets the limits; {_LONG}",
        gives="money, percent, kWh, m2 or text, as the quantity says",
        arguments=(
            NETWORK_ARGUMENT,
            DRIVES_ARGUMENT,
            OPTIONS_ARGUMENT,
            TERMS_ARGUMENT,
            Argument("quantity", QUANTITIES, "What to give"),
            SETTINGS_ARGUMENT,
        ),
        implementation=_value,
        refused=no_verdict(4),
        examples=(
            Example(
                f'=HD_CHOICE_VALUE({_GIVEN},"COST")', 31000.0, "500 + 100 x 200 + 500 + 100 x 100, by hand"
            ),
        ),
        notes="VERDICT: PASS, NO VERDICT, NO MIX PASSES or NO PASSING MIX FOUND; COST, PURCHASE, LOSSES: "
        "money; KWH: added losses a year; AREA: m2; TDD: largest of all PCCs and cases, TDD_ALONE: with the "
        "drives one by one; MARGIN: left to the binding limit, percent of it; GAP: proof gap, percent of the "
        "cost; BOUND: no mix costs less; BINDING, MIX, REMEDIES (filters and banks on buses), REMARKS: in "
        "words; PRICES: whether they are those of the example; REASON: why there is no verdict.",
    ),
)
