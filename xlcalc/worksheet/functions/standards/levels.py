"""Voltage levels of the IEC and EN documents, and a user's own table: limits and verdicts."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from xlcalc.core.errors import InputError, NoSolutionError
from xlcalc.core.spectrum import MAX_ORDER, ListedSpectrum
from xlcalc.schema.inputs.quantities import HARMONIC_ORDER
from xlcalc.schema.kinds import Choice, Number, Text
from xlcalc.schema.values import Grid
from xlcalc.standards.loader import editions_of
from xlcalc.standards.order_limits import judge_orders, order_table, user_table
from xlcalc.worksheet.arguments import Argument
from xlcalc.worksheet.functions.standards.verdict_rows import (
    MISSING_NOTE,
    ORDERS_NOT_LISTED,
    VERDICT_COLUMNS,
    VERDICT_GIVES,
    VERDICT_NOTE,
    VERDICT_SHAPE,
    verdict_rows,
)
from xlcalc.worksheet.ranges import PercentSpectrum, SpectrumRange
from xlcalc.worksheet.registry import Example, Shape, WorksheetFunction

CATEGORY = "Limits and verdicts of voltage"
QUANTITY = "voltage harmonic"
SPECTRUM = Argument("spectrum_pct", PercentSpectrum(), "Voltage in percent of the fundamental")
ORDER = Argument("order", HARMONIC_ORDER, "Harmonic order; left out: THD", default=None)
PLANT_CLASS = Argument("plant_class", Choice(("1", "2", "3")), "Class of the in-plant network")

PLANNING = Argument(
    "network", Choice(("MV", "HV-EHV")), "Voltage level of the network (MV: above 1 kV to 35 kV)"
)

SUPPLY = Argument("network", Choice(("LV", "MV")), "Voltage level of the supply terminals")


def _limit(table: str, column: str, order: int | None, edition: str | None) -> float:
    levels = order_table(table, edition=edition)
    if order is None:
        return levels.total("THD", column).value
    limit = levels.limit(order, column)
    if limit is None:
        origin = levels.rows[0].origin
        raise NoSolutionError(f"{origin.standard} gives no limit for order {order}")
    return limit.value


def _verdict(table: str, column: str, spectrum: ListedSpectrum, not_listed: str, edition: str | None) -> Grid:
    levels, percent = order_table(table, edition=edition), spectrum.listed_magnitude
    return verdict_rows(judge_orders(levels, column, QUANTITY, percent, orders_not_listed=not_listed))


def _rows(table: str) -> int:
    """Rows of a verdict: those of the column with the most levels, and the one of the whole."""
    levels = order_table(table)
    flat = np.zeros(MAX_ORDER)
    return max(len(judge_orders(levels, column, QUANTITY, flat).verdicts) for column in levels.columns) + 1


def _pair(
    suffix: str,
    table: str,
    column_of: Callable[[str], str],
    column: Argument | None,
    what: str,
    examples: tuple[tuple[Example, ...], tuple[Example, ...]],
    notes: str = "",
) -> tuple[WorksheetFunction, WorksheetFunction]:
    """The limit and the verdict function of one document; without a column argument it has one column.

    Documents of which several editions are shipped have the edition as their last argument.
    """
    chosen = (column,) if column else ()
    editions = editions_of(table)
    several = len(editions) > 1
    edition = (Argument("edition", Choice(editions), "Its edition", default=editions[0]),) if several else ()

    def limit(*arguments: object) -> float:
        *place, order = arguments[:-1] if several else arguments
        assert order is None or isinstance(order, int)
        chosen_edition = str(arguments[-1]) if several else None
        return _limit(table, column_of(str(place[0]) if place else ""), order, chosen_edition)

    def verdict(spectrum: ListedSpectrum, *rest: str) -> Grid:
        *place, not_listed = rest[:-1] if several else rest
        chosen_edition = rest[-1] if several else None
        return _verdict(table, column_of(place[0] if place else ""), spectrum, not_listed, chosen_edition)

    return (
        WorksheetFunction(
            name=f"HD_LIMIT_{suffix}",
            category=CATEGORY,
            summary=f"{what}: level of one order, or of the THD",
            gives="percent of the fundamental; #NUM! for an order without a level",
            arguments=(*chosen, ORDER, *edition),
            implementation=limit,
            examples=examples[0],
            notes=notes,
        ),
        WorksheetFunction(
            name=f"HD_VERDICT_{suffix}",
            category=CATEGORY,
            summary=f"{what}: verdict on a voltage spectrum, by order and THD",
            gives=VERDICT_GIVES,
            arguments=(SPECTRUM, *chosen, ORDERS_NOT_LISTED, *edition),
            implementation=verdict,
            shape=Shape(_rows(table), VERDICT_COLUMNS),
            examples=examples[1],
            notes=f"{VERDICT_NOTE} {MISSING_NOTE} {notes}".strip(),
        ),
    )


def _own_table(
    spectrum: ListedSpectrum, limits: ListedSpectrum, thd: float | None, document: str, not_listed: str
) -> Grid:
    if 1 in limits.given:
        raise InputError("order in limits", 1, "2 to 50; the fundamental has no limit")
    pairs = [(h, float(limits.magnitude[h - 1])) for h in sorted(limits.given)]
    table = user_table(document, pairs, thd)
    values = spectrum.listed_magnitude
    return verdict_rows(judge_orders(table, "user", QUANTITY, values, orders_not_listed=not_listed))


DISTORTED = "{1,100;5,4;7,3}"

FUNCTIONS = (
    *_pair(
        "IEC61000_2_2",
        "iec61000_2_2",
        lambda _: "LV",
        None,
        "IEC 61000-2-2, public low-voltage networks",
        (
            (
                Example("=HD_LIMIT_IEC61000_2_2(25)", 1.2736, "2.27 x 17/25 - 0.27, by hand"),
                Example("=HD_LIMIT_IEC61000_2_2()", 8.0, "IEC 61000-2-2 (secondary sources)"),
            ),
            (
                Example(
                    f'=INDEX(HD_VERDICT_IEC61000_2_2({DISTORTED},"zero"),50,5)',
                    3.0,
                    "THD: 8 % less the root sum square of 4 and 3 %, by hand",
                ),
            ),
        ),
    ),
    *_pair(
        "IEC61000_2_4",
        "iec61000_2_4",
        lambda place: f"class {place}",
        PLANT_CLASS,
        "IEC 61000-2-4, in-plant networks of class 1, 2 or 3",
        (
            (
                Example("=HD_LIMIT_IEC61000_2_4(2,5)", 6.0, "IEC 61000-2-4:2002 (secondary sources)"),
                Example("=HD_LIMIT_IEC61000_2_4(3,25)", 2.56, "4.5 x 17/25 - 0.5, by hand"),
            ),
            (
                Example(
                    f"=INDEX(HD_VERDICT_IEC61000_2_4({DISTORTED},1),4,6)",
                    "FAIL",
                    "order 5: 4 % above 3 %, by hand",
                ),
            ),
        ),
        "Levels of the 2002 edition, which the edition of 2024 has replaced; its numbers could not be read.",
    ),
    *_pair(
        "EN50160",
        "en50160",
        lambda place: place,
        SUPPLY,
        "EN 50160, supply terminals",
        (
            (
                Example('=HD_LIMIT_EN50160("LV",11)', 3.5, "EN 50160:2010 (three secondary sources)"),
                Example('=HD_LIMIT_EN50160("MV")', 8.0, "EN 50160:2010 (one secondary source)"),
                Example('=HD_LIMIT_EN50160("LV",15)', 0.5, "EN 50160:2010 (three secondary sources)"),
                Example('=HD_LIMIT_EN50160("LV",15,2022)', 1.0, "EN 50160:2022 (recalled, no text read)"),
            ),
            (
                Example(
                    f'=INDEX(HD_VERDICT_EN50160({DISTORTED},"LV"),4,5)',
                    2.0,
                    "order 5: 6 % less 4 %, by hand",
                ),
            ),
        ),
        "The edition of 2022 has replaced that of 2010 and permits more of orders 15 and 21 (recalled; no "
        "text could be read): compare with a licensed copy. "
        "The levels hold for 95 % of the 10-minute means of a week; a design estimate is compared with them "
        "as it stands. No levels above order 25.",
    ),
    *_pair(
        "IEC61000_3_6",
        "iec61000_3_6",
        lambda place: place,
        PLANNING,
        "IEC TR 61000-3-6, indicative planning levels",
        (
            (
                Example('=HD_LIMIT_IEC61000_3_6("MV",25)', 1.092, "1.9 x 17/25 - 0.2, by hand"),
                Example('=HD_LIMIT_IEC61000_3_6("HV-EHV",25)', 0.816, "1.2 x 17/25, by hand"),
            ),
            (
                Example(
                    f'=INDEX(HD_VERDICT_IEC61000_3_6({DISTORTED},"HV-EHV"),4,6)',
                    "FAIL",
                    "order 5: 4 % above 2 %, by hand",
                ),
            ),
        ),
        "Planning levels are the utility's own; these are indicative ones.",
    ),
    WorksheetFunction(
        name="HD_VERDICT_OWN",
        category=CATEGORY,
        summary="Verdict on a voltage or current spectrum by a table of limits of your own",
        gives=VERDICT_GIVES,
        arguments=(
            Argument("spectrum_pct", PercentSpectrum(), "Spectrum in percent, as the limits are"),
            Argument("limits", SpectrumRange(), "Your limits: columns order and percent"),
            Argument(
                "thd_limit_pct",
                Number(0, 1000, "%", above=True),
                "Your limit of the THD; left out: none",
                default=None,
            ),
            Argument("document", Text(), "Where the limits come from", default="own table"),
            ORDERS_NOT_LISTED,
        ),
        implementation=_own_table,
        shape=VERDICT_SHAPE,
        examples=(
            Example(
                f"=INDEX(HD_VERDICT_OWN({DISTORTED},{{5,3;7,4}},6),1,6)", "FAIL", "4 % above 3 %, by hand"
            ),
        ),
        notes=f"{VERDICT_NOTE} {MISSING_NOTE} Orders for which you give no limit are not judged; the overall "
        "row names them.",
    ),
)
