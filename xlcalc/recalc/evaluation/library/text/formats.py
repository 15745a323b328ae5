"""Number formats of TEXT: sections, decimals, thousands, per cent, exponents, dates and times in English.

Grammar as in ECMA-376 Part 1, 18.8.31. What depends on the region or on a program is refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from xlcalc.recalc.evaluation.library.text.vulgar_fractions import fraction
from xlcalc.recalc.evaluation.library.values import EPOCH, Uncertain

_TOKEN = re.compile(
    r'"(?P<quoted>[^"]*)"|\\(?P<escaped>.)|_(?P<space>.)|\*(?P<fill>.)|\[(?P<bracket>[^\]]*)\]'
    r"|(?P<ampm>AM/PM|A/P)|(?P<general>General)|(?P<exponent>E[+-])|(?P<date>y+|m+|d+|h+|s+|b+|e+|g+|a+)"
    r"|(?P<digit>[0#?])|(?P<point>\.)|(?P<comma>,)|(?P<percent>%)|(?P<text>@)|(?P<other>.)",
    re.IGNORECASE | re.DOTALL,
)
_COLOURS = frozenset("black blue cyan green magenta red white yellow".split())
_LITERAL = frozenset("$-+/():!^&'~{}<>= €£")
_MONTHS = "January February March April May June July August September October November December".split()
_DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()
_MARCH_1900 = 61
_LAST_DAY = 2958466
_PRECISE = 10


@dataclass(frozen=True)
class _Token:
    kind: str
    text: str


def formatted(value: float | str, pattern: str, *, date_1904: bool = False) -> str:
    """A number or a text as a format shows it.

    Raises
    ------
    Uncertain
        For formats that are not known to mean the same everywhere.

    Examples
    --------
    >>> formatted(-1234.5, "#,##0_);(#,##0)"), formatted(0.000123, "0.00E+00")
    ('(1,235)', '1.23E-04')
    >>> formatted(45000.75, "d mmm yyyy h:mm AM/PM"), formatted(1.5, "[h]:mm")
    ('15 Mar 2023 6:00 PM', '36:00')
    """
    if not isinstance(value, str):
        as_fraction = fraction(abs(value), pattern)
        if as_fraction is not None:
            return _sign(value < 0) + as_fraction
    sections = _sections(pattern)
    if len(sections) > 4:
        raise _unknown(pattern)
    if any(token.kind == "text" for section in sections[:-1] for token in section):
        raise _unknown(pattern)
    if isinstance(value, str):
        return _text(value, sections, pattern)
    if len(sections) == 4 or (len(sections) > 1 and any(t.kind == "text" for t in sections[-1])):
        sections = sections[:-1]
    section, negative = sections[0], value < 0
    if len(sections) > 1 and negative:
        section, value, negative = sections[1], -value, False
        chosen = 1
    else:
        chosen = 0
    if len(sections) > 2 and value == 0:
        section, chosen = sections[2], 2
    if not section:
        return "" if len(sections) > 1 else _unknown_text(pattern)
    kinds = {token.kind for token in section}
    if "date" in kinds or "elapsed" in kinds:
        if negative or chosen:
            raise Uncertain(f"the date format {pattern!r} of a negative number")
        return _moment(value, section, pattern, date_1904)
    if "general" in kinds or "text" in kinds:
        return _general(value, section, negative, pattern)
    if "digit" not in kinds:
        return _sign(negative) + "".join(_plain(token, pattern) for token in section)
    return _number(value, section, pattern, in_second=chosen == 1)


def _unknown(pattern: str) -> Uncertain:
    return Uncertain(f"the number format {pattern!r} is not supported in TEXT")


def _unknown_text(pattern: str) -> str:
    raise _unknown(pattern)


def _sign(negative: bool) -> str:
    return "-" if negative else ""


def _sections(pattern: str) -> list[list[_Token]]:
    found: list[list[_Token]] = [[]]
    for match in _TOKEN.finditer(pattern):
        kind = match.lastgroup or "other"
        text = match[kind]
        if kind == "other" and text == ";":
            found.append([])
        elif kind == "bracket":
            found[-1] += _bracket(text, pattern)
        elif kind == "fill" or (kind == "date" and text[0].lower() in "bega"):
            raise _unknown(pattern)
        elif kind in ("quoted", "escaped"):
            found[-1].append(_Token("literal", text))
        elif kind == "space":
            found[-1].append(_Token("literal", " "))
        elif kind == "other" and text not in _LITERAL:
            raise _unknown(pattern)
        else:
            found[-1].append(_Token("literal" if kind == "other" else kind, text))
    return found


def _bracket(text: str, pattern: str) -> list[_Token]:
    folded = text.lower()
    if folded in _COLOURS:
        return []
    if folded and set(folded) in ({"h"}, {"m"}, {"s"}):
        return [_Token("elapsed", folded)]
    if re.fullmatch(r"\$-(?:0?409|0?809)", folded):
        return []
    match = re.fullmatch(r"\$([^-\]]+)(?:-[0-9a-f]+)?", text, re.IGNORECASE)
    if match:
        return [_Token("literal", match[1])]
    raise _unknown(pattern)


def _text(value: str, sections: list[list[_Token]], pattern: str) -> str:
    last = sections[-1]
    if len(sections) < 4 and not any(token.kind == "text" for token in last):
        return value
    return "".join(value if token.kind == "text" else _plain(token, pattern) for token in last)


def _plain(token: _Token, pattern: str) -> str:
    if token.kind in ("literal", "point", "comma", "percent"):
        return token.text
    raise _unknown(pattern)


def _general(value: float, section: list[_Token], negative: bool, pattern: str) -> str:
    size = abs(value)
    text = f"{size:.{_PRECISE}g}"
    if "e" in text or float(text) != float(f"{size:.15g}"):
        raise Uncertain(f"how {value!r} is shown as General depends on the room")
    shown = "".join(
        text if token.kind in ("general", "text") else _plain(token, pattern) for token in section
    )
    return _sign(negative) + shown


def _number(value: float, section: list[_Token], pattern: str, *, in_second: bool) -> str:
    if any(token.text == "/" for token in section):
        raise _unknown(pattern)
    exponents = [i for i, token in enumerate(section) if token.kind == "exponent"]
    size = Decimal(f"{abs(value):.15g}")
    if exponents:
        return _sign(value < 0) + _scientific(size, section, exponents, pattern)
    digits = [i for i, token in enumerate(section) if token.kind == "digit"]
    points = [i for i, token in enumerate(section) if token.kind == "point"]
    if len(points) > 1 or digits != sorted(digits):
        raise _unknown(pattern)
    point = points[0] if points else digits[-1] + 1
    whole = [i for i in digits if i < point]
    part = [i for i in digits if i > point]
    last_whole = whole[-1] if whole else -1
    if "0" in "".join(section[i].text for i in part).lstrip("0"):
        raise _unknown(pattern)
    commas = [i for i, token in enumerate(section) if token.kind == "comma"]
    grouped = any(whole and whole[0] < i < last_whole for i in commas)
    scaling = [i for i in commas if i > last_whole and section[i - 1].kind in ("digit", "comma")]
    inside = [i for i in commas if i < last_whole]
    if 0 in inside or any({section[i - 1].kind, section[i + 1].kind} != {"digit"} for i in inside):
        raise _unknown(pattern)
    if any(i > last_whole and i not in scaling for i in commas) or (scaling and not whole):
        raise _unknown(pattern)
    size /= Decimal(1000) ** len(scaling)
    size *= Decimal(100) ** sum(token.kind == "percent" for token in section)
    rounded = size.quantize(Decimal(1).scaleb(-len(part)), ROUND_HALF_UP)
    negative = value < 0
    percents = sum(token.kind == "percent" for token in section)
    binary = Decimal(abs(value) * 100.0**percents).quantize(rounded, ROUND_HALF_UP)
    if percents and binary != rounded:
        raise Uncertain(f"{value!r} lies half-way between two percentages")
    if (negative or in_second) and rounded == 0 and value != 0:
        raise Uncertain(f"the sign of {value!r}, which the format rounds to zero")
    text = f"{rounded:f}"
    before, _, after = text.partition(".")
    before = "" if before == "0" else before
    if grouped and any(section[i].text == "?" for i in whole):
        raise _unknown(pattern)
    if grouped and any(section[i].text == " " for i in range(whole[0], last_whole)):
        raise _unknown(pattern)
    unusual = any(sum(i > comma for i in whole) % 3 for comma in commas)
    if grouped and unusual and sum(section[i].text == "0" for i in whole) > max(len(before), 3):
        raise _unknown(pattern)
    shown = _laid_out(section, before, after, whole, part, point, grouped, set(commas), pattern)
    return _sign(negative) + shown


def _laid_out(
    section: list[_Token],
    before: str,
    after: str,
    whole: list[int],
    part: list[int],
    point: int,
    grouped: bool,
    commas: set[int],
    pattern: str,
) -> str:
    """Digits put into their places, from the point to both sides."""
    kept = len(after)
    while kept and section[part[kept - 1]].text == "#" and after[kept - 1] == "0":
        kept -= 1
    pieces: dict[int, str] = {}
    for place, index in enumerate(part):
        mark = section[index].text
        pieces[index] = after[place] if place < kept else " " if mark == "?" else ""
        if mark == "?" and not after[place:].strip("0"):
            pieces[index] = " "
    required = next((len(whole) - n for n, i in enumerate(whole) if section[i].text == "0"), 0)
    width = max(len(before), required)
    digits = before.rjust(width, "0")
    for place, index in enumerate(reversed(whole)):
        position = width - 1 - place
        if position < 0:
            pieces[index] = " " if section[index].text == "?" else ""
            continue
        group = "," if grouped and place and place % 3 == 0 else ""
        pieces[index] = digits[position] + group
        if place == len(whole) - 1 and position > 0:
            rest = ""
            for back, digit in enumerate(reversed(digits[:position]), place + 1):
                rest = digit + ("," if grouped and back % 3 == 0 else "") + rest
            pieces[index] = rest + pieces[index]
    if not whole and before:
        pieces[point] = before + "."
    out = []
    for index, token in enumerate(section):
        if index in pieces:
            out.append(pieces[index])
        elif token.kind == "point":
            out.append(".")
        elif index not in commas:
            out.append(_plain(token, pattern))
    return "".join(out)


def _scientific(size: Decimal, section: list[_Token], exponents: list[int], pattern: str) -> str:
    at = exponents[0]
    head, tail = section[:at], section[at + 1 :]
    marks = [token.text for token in head if token.kind in ("digit", "point")]
    simple = all(token.kind in ("digit", "point") for token in head)
    if len(exponents) > 1 or not simple or "?" in marks or "#" in marks or "".join(marks).find(".") > 1:
        raise _unknown(pattern)
    places = len("".join(marks).partition(".")[2])
    if not marks or marks[0] != "0" or ("." not in marks and len(marks) > 1):
        raise _unknown(pattern)
    wide = sum(token.kind == "digit" and token.text == "0" for token in tail)
    if wide == 0 or any(token.kind == "digit" and token.text != "0" for token in tail):
        raise _unknown(pattern)
    exponent = size.adjusted() if size else 0
    mantissa = size.scaleb(-exponent).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    if mantissa >= 10:
        exponent += 1
        mantissa = size.scaleb(-exponent).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    sign = "-" if exponent < 0 else "+" if section[at].text[1] == "+" else ""
    after = "".join(_plain(token, pattern) for token in tail if token.kind != "digit")
    point = "." if "." in marks and not places else ""
    return f"{mantissa:f}{point}E{sign}{abs(exponent):0{wide}d}{after}"


def _moment(value: float, section: list[_Token], pattern: str, date_1904: bool) -> str:
    if not 0 <= value < _LAST_DAY:
        raise Uncertain(f"{value!r} shown as a date")
    tokens = [_Token(t.kind, t.text.lower() if t.kind in ("date", "elapsed") else t.text) for t in section]
    tokens = _with_minutes(tokens)
    elapsed = [token.text[0] for token in tokens if token.kind == "elapsed"]
    if any(token.kind == "digit" for token in tokens) or len(elapsed) > 1:
        raise _unknown(pattern)
    if any(token.kind == "date" and token.text[0] in elapsed for token in tokens):
        raise _unknown(pattern)
    kinds = {token.text[0] for token in tokens if token.kind == "date"}
    if kinds & set("ymd"):
        if date_1904:
            raise Uncertain("a date format in a workbook that counts from 1904")
        if value < _MARCH_1900:
            raise Uncertain("a date before March 1900")
    ticks = Decimal(f"{value:.15g}") * 86400
    showing = any(token.kind == "seconds" or token.text[:1] == "s" for token in tokens)
    exact = ticks.quantize(Decimal(1), ROUND_HALF_UP)
    if showing and Decimal("0.5") <= ticks % 1 < Decimal("0.99999"):
        raise Uncertain("a time with half a second or more over, shown in seconds")
    if not showing:
        exact = ticks.quantize(Decimal("0.001"), ROUND_HALF_UP)
        if exact % 60 > Decimal("59.5"):
            raise Uncertain("a time within half a second of the next minute, shown without seconds")
    seconds = int(exact)
    days, rest = divmod(seconds, 86400)
    shown_day = date.fromordinal(EPOCH + days) if days >= _MARCH_1900 else None
    half = any(token.kind == "ampm" for token in tokens)
    return "".join(_piece(token, shown_day, seconds, rest, half, pattern) for token in tokens)


def _with_minutes(tokens: list[_Token]) -> list[_Token]:
    """An m after hours or before seconds stands for minutes."""
    timed = [i for i, token in enumerate(tokens) if token.kind in ("date", "elapsed")]
    found = list(tokens)
    for order, index in enumerate(timed):
        token = tokens[index]
        if token.kind != "date" or token.text[0] != "m" or len(token.text) > 2:
            continue
        previous = tokens[timed[order - 1]].text[0] if order else ""
        following = tokens[timed[order + 1]].text[0] if order + 1 < len(timed) else ""
        if previous == "h" or following == "s":
            found[index] = _Token("minutes", token.text)
    return found


def _piece(
    token: _Token,
    shown_day: date | None,
    seconds: int,
    rest: int,
    half: bool,
    pattern: str,
) -> str:
    text = token.text
    if token.kind == "literal":
        return text
    if token.kind in ("point", "comma"):
        return text
    hours, minutes = rest // 3600, rest // 60 % 60
    if token.kind == "ampm":
        if text != text.upper():
            raise _unknown(pattern)
        return text.split("/")[hours >= 12]
    if token.kind == "minutes":
        return f"{minutes:0{len(text)}d}"
    if token.kind == "elapsed":
        total = {"h": seconds // 3600, "m": seconds // 60, "s": seconds}[text[0]]
        return f"{total:0{len(text)}d}"
    if token.kind != "date":
        raise _unknown(pattern)
    if text[0] == "h":
        return f"{(hours + 11) % 12 + 1 if half else hours:0{min(len(text), 2)}d}"
    if text[0] == "s":
        return f"{rest % 60:0{min(len(text), 2)}d}"
    if shown_day is None:
        raise _unknown(pattern)
    return _day_piece(text, shown_day, pattern)


def _day_piece(text: str, day: date, pattern: str) -> str:
    count = len(text)
    if text[0] == "y":
        return f"{day.year:04d}" if count > 2 else f"{day.year % 100:02d}"
    if text[0] == "m":
        name = _MONTHS[day.month - 1]
        number = f"{day.month:0{min(count, 2)}d}"
        return number if count < 3 else name[:3] if count == 3 else name[0] if count == 5 else name
    name = _DAYS[day.weekday()]
    number = f"{day.day:0{min(count, 2)}d}"
    return number if count < 3 else name[:3] if count == 3 else name
