"""What to write instead of a formula that cannot be evaluated for certain, where there is a plain way."""

from __future__ import annotations

import re

_INSTEAD = (
    (r"not an array formula", "the one cell that is meant, or enter the formula as an array formula"),
    (r"digits; ROUND would decide|distance of|last digits", "ROUND around both sides of the comparison"),
    (r"(not|are not) sorted|descending cells", "an exact match (0 or FALSE), or sort the cells"),
    (
        r"regional settings|depends on the program",
        "the number itself, or DATE(year,month,day) or TIME(h,m,s)",
    ),
    (r"the text .* where a number is expected|text that may or may not be a number", "the number itself"),
    (r"a circular reference", "formulas that do not come back to their own cell; try values by hand instead"),
    (r"lies in another file", "the values themselves, copied into a sheet of this workbook"),
    (r"what-if data table", "one row of formulas for each case"),
    (r"number format .* not supported|date format .* negative", "another format, such as 0.00 or yyyy-mm-dd"),
    (r"YEARFRAC actual/actual", "the basis 0, 2, 3 or 4"),
    (r"MROUND of a number half-way", "ROUND(number/multiple,0)*multiple"),
    (r"odd root of a negative", "-(ABS(number)^(1/n))"),
    (r"0 to the power of 0", "IF(base=0,0,base^exponent), with the value that is meant for 0"),
    (r"CONVERT of the unit", "the factor between the units"),
    (r"defined name with a relative reference", "cells in the formula, or $ in the name"),
    (r"INDIRECT of an address by row and column", "INDEX, or INDIRECT of an address such as A1"),
    (r"a logical in SUMPRODUCT", "--( ) around the condition"),
    (r"a criterion that is a logical", "SUMPRODUCT(--(cells=TRUE))"),
    (
        r"have one value several times|rates$|may have several rates",
        "NPV at the rates that are to be compared",
    ),
    (r"filtered rows|rows of the sheet .* are hidden", "SUM or SUMIFS over the rows that are meant"),
    (r"^function .* is not supported$", "functions of the list at the end of what `xlcalc functions` prints"),
    (r"does not fit", "the formula where the cells below and beside it are free"),
)
_RULES = tuple((re.compile(pattern), words) for pattern, words in _INSTEAD)


def instead(reason: str) -> str:
    """What to write in place of a formula that was refused for a reason; empty where no way is known.

    Examples
    --------
    >>> instead("YEARFRAC actual/actual across a leap year")
    'the basis 0, 2, 3 or 4'
    """
    return next((words for rule, words in _RULES if rule.search(reason)), "")
