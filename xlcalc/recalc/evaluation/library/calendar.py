"""Working days, spans between dates, and dates from text, in workbooks that count from 1900."""

from __future__ import annotations

import math
from calendar import monthrange
from collections.abc import Callable
from datetime import date, timedelta

import numpy as np

from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.library.rounding import add_in_number
from xlcalc.recalc.evaluation.library.values import (
    EPOCH,
    LEFT_OUT,
    ErrorShown,
    Uncertain,
    cells_of,
    fail,
    is_error,
    is_number,
    logical,
    number,
    over_arrays,
    single,
    text_number,
    whole,
)
from xlcalc.schema.values import ErrorCode

_LAST = 2958465
"""31 December 9999."""
_MARCH_1900 = 61
_STARTS = {1: 6, 2: 0, 11: 0, 12: 1, 13: 2, 14: 3, 15: 4, 16: 5, 17: 6}
"""First day of the week, from Monday as 0, by the kind of week."""
_ISO_WEEKS = 21


def day_number(raw: Raw) -> int:
    """Serial number of a day."""
    found = math.floor(number(single(raw)))
    if not 0 <= found <= _LAST:
        fail(ErrorCode.NUM)
    return found


def day(raw: Raw) -> date:
    """A day; before March 1900 programs count the days differently: refused."""
    found = day_number(raw)
    if found < _MARCH_1900:
        raise Uncertain("a date before March 1900")
    return date.fromordinal(EPOCH + found)


def serial(found: date) -> float:
    return float(found.toordinal() - EPOCH)


def date_of(year: Raw = None, month: Raw = None, day_of_month: Raw = None) -> Raw:
    """DATE."""
    years, months, days = whole(year), whole(month), whole(day_of_month)
    years += 1900 if 0 <= years < 1900 else 0
    years, months = years + (months - 1) // 12, (months - 1) % 12 + 1
    if not 1900 <= years <= 9999:
        fail(ErrorCode.NUM)
    first = date(years, months, 1).toordinal() - EPOCH
    found = first + days - 1
    if years == 1900 and months < 3:
        found -= 1
        if found >= _MARCH_1900 - 1:
            raise Uncertain("a date before March 1900")
    if not 0 <= found <= _LAST:
        fail(ErrorCode.NUM)
    if found < _MARCH_1900 <= first:
        raise Uncertain("a date before March 1900")
    return float(found)


def time_of(hour: Raw = None, minute: Raw = None, second: Raw = None) -> Raw:
    """TIME."""
    seconds = whole(hour) * 3600 + whole(minute) * 60 + whole(second)
    return seconds % 86400 / 86400 if seconds >= 0 else fail(ErrorCode.NUM)


def _holidays(raw: Raw) -> list[date]:
    found = []
    for cell in cells_of(raw):
        if is_error(cell):
            raise ErrorShown(cell)
        if isinstance(cell, bool) or (is_number(cell) and cell < 0):
            raise Uncertain("a logical or a negative number among the holidays")
        if isinstance(cell, str) and (not cell or text_number(cell) is None):
            raise Uncertain(f"the text {cell!r} among the holidays")
        if cell is not None and cell is not LEFT_OUT:
            serial_number = day_number(cell)
            if serial_number >= _MARCH_1900:
                found.append(date.fromordinal(EPOCH + serial_number))
    return found


def _free_days(raw: Raw) -> str:
    """The working days of a week from Monday as ones, as numpy takes them."""
    raw = 1.0 if raw is LEFT_OUT else single(raw)
    if isinstance(raw, bool):
        raise Uncertain("a logical as the kind of weekend")
    if is_number(raw) and not float(raw).is_integer():
        raise Uncertain("a kind of weekend that is no whole number")
    if isinstance(raw, str):
        if len(raw) != 7 or set(raw) - {"0", "1"}:
            fail(ErrorCode.VALUE)
        return "".join("1" if mark == "0" else "0" for mark in raw)
    kind = whole(raw)
    free = [(5 + kind - 1) % 7, (6 + kind - 1) % 7] if 1 <= kind <= 7 else [(6 + kind - 11) % 7]
    if not (1 <= kind <= 7 or 11 <= kind <= 17):
        fail(ErrorCode.NUM)
    return "".join("0" if place in free else "1" for place in range(7))


def _number_day(raw: Raw) -> date:
    add_in_number(raw)
    return day(raw)


def working_days(start: Raw = None, end: Raw = None, holidays: Raw = None, week: str = "1111100") -> Raw:
    """NETWORKDAYS: days from the first to the last, both counted."""
    first, last = _number_day(start), _number_day(end)
    sign = 1 if first <= last else -1
    first, last = min(first, last), max(first, last)
    counted = np.busday_count(first, last + timedelta(1), weekmask=week, holidays=_holidays(holidays))
    return float(sign * int(counted))


def working_day(start: Raw = None, days: Raw = None, holidays: Raw = None, week: str = "1111100") -> Raw:
    """WORKDAY: so many working days after a day."""
    first, count = _number_day(start), math.trunc(add_in_number(days))
    if count == 0:
        return serial(first)
    found = np.busday_offset(
        first,
        count,
        roll="backward" if count > 0 else "forward",
        weekmask=week,
        holidays=_holidays(holidays),
    )
    result = found.astype(date).toordinal() - EPOCH
    return float(result) if _MARCH_1900 <= result <= _LAST else fail(ErrorCode.NUM)


def working_days_of(start: Raw = None, end: Raw = None, week: Raw = LEFT_OUT, holidays: Raw = None) -> Raw:
    """NETWORKDAYS.INTL; a week without working days is documented to give 0."""
    days = _free_days(week)
    return working_days(start, end, holidays, days) if "1" in days else 0.0


def working_day_of(start: Raw = None, days: Raw = None, week: Raw = LEFT_OUT, holidays: Raw = None) -> Raw:
    """WORKDAY.INTL."""
    working = _free_days(week)
    return working_day(start, days, holidays, working) if "1" in working else fail(ErrorCode.VALUE)


def days_between(end: Raw = None, start: Raw = None) -> Raw:
    """DAYS."""
    return float(day_number(end) - day_number(start))


def days_of_360(start: Raw = None, end: Raw = None, european: Raw = False) -> Raw:
    """DAYS360; refused where a day is the last of February and the American method is asked for."""
    first, last = day(start), day(end)
    if any(isinstance(raw, float) and not raw.is_integer() for raw in (start, end)):
        raise Uncertain("DAYS360 between parts of days; INT decides it")
    if not logical(european):
        _refuse_february(first, last)
    return float(_days_360(first, last, european=logical(european)))


def _refuse_february(*days: date) -> None:
    if any(found.month == 2 and (found + timedelta(1)).month == 3 for found in days):
        raise Uncertain("a year of 360 days from or to the end of February")


def _days_360(first: date, last: date, *, european: bool) -> int:
    start_day = min(first.day, 30)
    end_day = min(last.day, 30) if european or start_day == 30 else last.day
    return (last.year - first.year) * 360 + (last.month - first.month) * 30 + end_day - start_day


def year_fraction(start: Raw = None, end: Raw = None, basis: Raw = 0.0) -> Raw:
    """YEARFRAC."""
    first, last = day(start), day(end)
    first, last = min(first, last), max(first, last)
    if isinstance(basis, bool):
        raise Uncertain("YEARFRAC with a logical as its basis")
    kind = whole(basis)
    if not 0 <= kind <= 4:
        fail(ErrorCode.NUM)
    if kind in (0, 4):
        if kind == 0:
            _refuse_february(first, last)
        return _days_360(first, last, european=kind == 4) / 360
    days = (last - first).days
    if kind in (2, 3):
        return days / (360 if kind == 2 else 365)
    return days / _mean_year(first, last)


def _mean_year(first: date, last: date) -> float:
    """Length of a year for actual/actual; refused where programs are known to count differently."""
    if first.year == last.year:
        return 366.0 if _leap(first.year) else 365.0
    if last <= _years_later(first, 1):
        leap_days = [date(year, 2, 29) for year in (first.year, last.year) if _leap(year)]
        if not leap_days:
            return 365.0
        raise Uncertain("YEARFRAC actual/actual across a leap year")
    years = range(first.year, last.year + 1)
    return sum(366 if _leap(year) else 365 for year in years) / len(years)


def _years_later(day: date, years: int) -> date:
    """The same day of a later year, 28 for 29 February where that is missing."""
    last = 28 if (day.month, day.day) == (2, 29) and not _leap(day.year + years) else day.day
    return date(day.year + years, day.month, last)


def _leap(year: int) -> bool:
    return year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)


def date_difference(start: Raw = None, end: Raw = None, unit: Raw = None) -> Raw:
    """DATEDIF; refused where what programs show depends on the lengths of months."""
    wanted = single(unit)
    if is_error(wanted):
        raise ErrorShown(wanted)
    if day_number(start) > day_number(end):
        fail(ErrorCode.NUM)
    first, last = day(start), day(end)
    wanted = wanted.upper() if isinstance(wanted, str) else fail(ErrorCode.VALUE)
    months = (last.year - first.year) * 12 + last.month - first.month - (last.day < first.day)
    if wanted == "D":
        return float((last - first).days)
    if wanted in ("M", "Y", "YM"):
        return float({"M": months, "Y": months // 12, "YM": months % 12}[wanted])
    if wanted == "MD":
        if last.day < first.day:
            raise Uncertain('DATEDIF with "MD" across the end of a month')
        return float(last.day - first.day)
    if wanted == "YD":
        if first.month == 2 and first.day == 29:
            raise Uncertain('DATEDIF with "YD" from 29 February')
        years = last.year - first.year - ((last.month, last.day) < (first.month, first.day))
        counted = {
            (last - _years_later(first, years)).days,
            (last.replace(year=first.year + last.year - (first.year + years)) - first).days
            if (last.month, last.day) != (2, 29)
            else -1,
        }
        if len(counted) > 1:
            raise Uncertain('DATEDIF with "YD" across a leap day')
        return float(counted.pop())
    return fail(ErrorCode.NUM)


def date_value(text: Raw = None) -> Raw:
    """DATEVALUE of a date as in ISO 8601; in every other form it depends on the region."""
    return float(math.floor(_from_text(text, "-")))


def time_value(text: Raw = None) -> Raw:
    """TIMEVALUE of a time as in ISO 8601."""
    return _from_text(text, ":") % 1


def _from_text(raw: Raw, mark: str) -> float:
    raw = single(raw)
    if is_error(raw):
        raise ErrorShown(raw)
    if not isinstance(raw, str):
        return fail(ErrorCode.VALUE)
    found = text_number(raw)
    if found is None:
        return fail(ErrorCode.VALUE)
    if mark not in raw.strip()[1:]:
        raise Uncertain(f"whether {raw!r} is a date or time depends on the program")
    return found


def _months_later(start: Raw, months: Raw) -> tuple[date, int]:
    """The first day of a month so many months later, and the day of the month that one starts from."""
    if isinstance(single(start), bool) or isinstance(single(months), bool):
        return fail(ErrorCode.VALUE)
    first = day(start)
    count = first.year * 12 + first.month - 1 + whole(months)
    if not 1900 <= count // 12 <= 9999:
        return fail(ErrorCode.NUM)
    return date(count // 12, count % 12 + 1, 1), first.day


def months_later(start: Raw, months: Raw) -> Raw:
    """EDATE; a logical is no date (function description of Excel, from memory)."""
    first, wanted = _months_later(start, months)
    last = monthrange(first.year, first.month)[1]
    return _after_february_1900(first.replace(day=min(wanted, last)))


def end_of_month(start: Raw, months: Raw) -> Raw:
    """EOMONTH."""
    first, _ = _months_later(start, months)
    return _after_february_1900(first.replace(day=monthrange(first.year, first.month)[1]))


def _after_february_1900(found: date) -> float:
    if serial(found) < _MARCH_1900:
        raise Uncertain("a date before March 1900")
    return serial(found)


def day_of_week(when: Raw, kind: Raw = 1.0) -> Raw:
    """WEEKDAY."""
    monday, wanted = day(when).weekday(), whole(kind)
    if wanted == 3:
        return float(monday)
    return float((monday - _STARTS[wanted]) % 7 + 1) if wanted in _STARTS else fail(ErrorCode.NUM)


def week_of_year(when: Raw, kind: Raw = 1.0) -> Raw:
    """WEEKNUM: the week with 1 January is the first one, or by ISO 8601 that with the first Thursday."""
    add_in_number(kind)
    found, wanted = _number_day(when), whole(kind)
    if wanted == _ISO_WEEKS:
        return float(found.isocalendar().week)
    if wanted not in _STARTS:
        fail(ErrorCode.NUM)
    first = date(found.year, 1, 1)
    return float(((found - first).days + (first.weekday() - _STARTS[wanted]) % 7) // 7 + 1)


def iso_week(when: Raw) -> Raw:
    """ISOWEEKNUM."""
    return float(_number_day(when).isocalendar().week)


FUNCTIONS: dict[str, Callable[..., Raw]] = {
    "EDATE": months_later,
    "EOMONTH": end_of_month,
    "WEEKDAY": day_of_week,
    "WEEKNUM": week_of_year,
    "ISOWEEKNUM": iso_week,
    "DATE": date_of,
    "TIME": time_of,
    "NETWORKDAYS": lambda start=None, end=None, holidays=None: working_days(start, end, holidays),
    "WORKDAY": lambda start=None, days=None, holidays=None: working_day(start, days, holidays),
    "NETWORKDAYS.INTL": working_days_of,
    "WORKDAY.INTL": working_day_of,
    "DAYS": days_between,
    "DAYS360": days_of_360,
    "YEARFRAC": year_fraction,
    "DATEDIF": date_difference,
    "DATEVALUE": date_value,
    "TIMEVALUE": time_value,
}
LIFTED = frozenset(
    (
        "EDATE EOMONTH WEEKDAY WEEKNUM ISOWEEKNUM DATE TIME DAYS DAYS360 YEARFRAC DATEDIF DATEVALUE TIMEVALUE"
    ).split()
)
"""Those that are repeated over arrays."""


FUNCTIONS |= over_arrays({name: FUNCTIONS[name] for name in LIFTED})
