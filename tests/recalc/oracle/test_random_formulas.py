"""Random formulas, nested to four levels, must agree with LibreOffice; the environment may ask for more."""

from __future__ import annotations

import os
import random

COUNT = int(os.environ.get("XLCALC_RANDOM_FORMULAS", "300"))
SEED = int(os.environ.get("XLCALC_RANDOM_SEED", "20240229"))

LEAVES = {
    "n": ["{a}", "{e}", "{i}", "{i}.25", "-{i}", "H1", "I2", "{gc}"],
    "t": ["{b}", "{f}", '"ab c"', '"Beta"', '""'],
    "g": ["{gc}", "{gc}+1"],
    "l": ["{a}>{e}", "{a}<=5", "{b}={f}"],
}
INNER = {
    "n": """
        ({n}+{n}) ({n}-{n}) {n}*{n} {n}/{n} -{n} ({n})% ROUND({n},{s}) INT({n}) ABS({n}) MOD({n},7)
        MOD({n},-4) MAX({n},{ra}) MIN({re},{a}) SUM({ra},{n}) AVERAGE({re}) COUNT({rb}) {g} COUNTA({rb})
        IF({l},{n},{n}) SIGN({n}) IFERROR({n},{n}) SUMIF({ra},">{i}") SUMIF({ra},"<={i}")
        COUNTIF({rb},"*a*") COUNTIF({rb},"<>alpha") COUNTIF({ra},"<{i}") INDEX({ra},1) MATCH({n},E1:E10,1)
        MATCH({n},A1:A10,0) VLOOKUP({n},E1:F10,1,TRUE) VLOOKUP({n},A1:F10,5,FALSE) LEN({t}) FIND("a",{t})
        SEARCH("A",{t}) LARGE({ra},2) SMALL({re},1) CHOOSE(2,{n},{n}) ROUNDUP({n},{s}) ROUNDDOWN({n},{s})
        SQRT(ABS({n})) POWER({n},2) TRUNC({n},1) CEILING({n},0.5) FLOOR({n},0.5) RANK({a},A1:A10)
        SUMPRODUCT(A1:A6,E2:E7) SUMIFS(A1:A9,E1:E9,">{i}") COUNTIFS(A1:A9,">{i}",E1:E9,"<99") MEDIAN({ra})
        STDEV({re}) YEAR(C1+{i}) MONTH(C3) DAY(EDATE(C1,{i})) WEEKDAY(C1+{i},2) DAY(EOMONTH(C1,{s}))
        SUBTOTAL(9,{ra}) SUBTOTAL(2,{rb}) SUMIF({ra},">{i}",E1) AVERAGEIF({ra},">{s}",E1:E2)
        AGGREGATE(4,6,{rg}) PERCENTILE({ra},0.5) TRIMMEAN(A1:A9,0.2) SLOPE(A1:A6,E1:E6) TREND(A1:A6,E1:E6,{n})
        DEVSQ({ra}) NORMSDIST({s}) PERMUT(9,{s}) SUM(({ra},{re})) IMABS(COMPLEX({a},{s})) BITAND({i},{k})
    """,
    "g": """
        SUM({rg}) COUNT({rg}) COUNTA({rg}) MAX({rg}) AVERAGE({rg}) SUMIF({rg},">{s}") COUNTIF({rg},">{s}")
        COUNTBLANK({rg}) IFERROR({g},{n}) (ISERROR({g})+0)
        SUMIF(E1:E6,">{i}",G1:G6) SUMIFS(G1:G6,E1:E6,">{i}") INDEX({rg},2)
        SUMIFS(G2:G9,A2:A9,">{i}",E2:E9,"<99")
        AVERAGEIF(A1:A8,">{i}",G1:G8) SUMPRODUCT(G1:G3,E1:E3) MATCH({s},G1:G10,0) VLOOKUP({s},G1:I9,1,FALSE)
        LARGE({rg},1) MEDIAN({rg}) MINIFS(G1:G9,E1:E9,">{i}") AVERAGEIFS(G1:G9,E1:E9,">{i}")
    """,
    "t": """
        {t}&{t} {t}&{i} LEFT({t},{s}) RIGHT({t},2) MID({t},2,{s}) UPPER({t}) LOWER({t}) TRIM({t})
        PROPER({t}) SUBSTITUTE({t},"a","XX") IF({l},{t},{t}) TEXT({n},"0.0") TEXT({n},"#,##0")
        TEXT({n},"0%") REPT({t},{s}) INDEX(F1:F10,{k}) REPLACE({t},1,1,"z") TEXTJOIN("-",TRUE,{rb})
        CONCATENATE({t},{t}) IFERROR({t},{t})
    """,
    "l": """
        {n}>{n} {n}<={n} {t}={t} {t}<{t} AND({l},{l}) OR({l},{l}) NOT({l}) ISNUMBER({n}) ISTEXT({t})
        ISERROR({n}) ISBLANK({b}) EXACT({t},{t}) XOR({l},{l})
    """,
}


class _Writer:
    def __init__(self, seed: int) -> None:
        self._random = random.Random(seed)

    def write(self, kind: str, depth: int) -> str:
        choices = INNER[kind].split() if depth else LEAVES[kind]
        text = self._random.choice(choices)
        while "{" in text:
            before, _, rest = text.partition("{")
            mark, _, after = rest.partition("}")
            text = before + self._fill(mark, depth - 1) + after
        return text

    def _fill(self, mark: str, depth: int) -> str:
        pick = self._random.randint
        if mark in INNER:
            return self.write(mark, max(depth, 0) if pick(0, 4) else 0)
        if mark in ("ra", "rb", "re", "rg"):
            first = pick(1, 6)
            return f"{mark[1].upper()}{first}:{mark[1].upper()}{first + pick(2, 4)}"
        if mark in ("a", "b", "e", "f", "gc"):
            return f"{mark[0].upper()}{pick(1, 10)}"
        return str({"i": pick(0, 40), "s": pick(0, 3), "k": pick(1, 10)}[mark])


def test_random_formulas_agree(compare) -> None:
    writer = _Writer(SEED)
    formulas = [writer.write("nngntl"[number % 6], 2 + number % 3) for number in range(COUNT)]
    plain, _ = compare(formulas, [])
    refused = sum(bool(compared.refused) for compared in plain)
    assert refused < COUNT / 50
    wrong = [
        f"={formula}: {compared.ours[0]!r}, LibreOffice {compared.theirs[0]!r}"
        for formula, compared in zip(formulas, plain, strict=True)
        if not compared.refused
        and not compared.same
        and not _both_errors(compared.ours[0], compared.theirs[0])
    ]
    assert wrong == []


def _both_errors(ours: object, theirs: object) -> bool:
    """Which error value shows first, or at all for an invalid number, differs between programs."""
    return all(isinstance(value, str) and value.startswith("#") for value in (ours, theirs))
