"""The ordinary functions whose behaviour is tested, and how each takes its arguments.

Argument letters: ``n`` one value, ``t`` one value used as text, ``r`` a range or a value, ``a`` a range or
computed array, ``p`` whatever the whole call stands for. Brackets with ``+`` repeat. A name that is not here
is refused even if the engine knows it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from xlcalc.recalc.evaluation.certified import certified_names

_TABLE = """
one  lift  n       ABS ACOS ACOSH ASIN ASINH ATAN ATANH COS COSH DEGREES EVEN EXP FACT INT LN LOG10
one  lift  n       ODD RADIANS SIGN SIN SINH SQRT SQRTPI TAN TANH
one  lift  n       ISBLANK ISERR ISERROR ISLOGICAL ISNA ISNONTEXT ISNUMBER ISTEXT NOT
one  lift  nn      ATAN2 COMBIN MOD POWER ROUND ROUNDDOWN ROUNDUP LOG TRUNC
one  lift  nn      MROUND QUOTIENT
one  both  nn      CEILING FLOOR CEILING.PRECISE FLOOR.PRECISE ISO.CEILING
one  both  nnn     CEILING.MATH FLOOR.MATH
one  lift  n       ISEVEN ISODD
one  lift  n       N
one  -     n       T ERROR.TYPE
one  -     nn      RANDBETWEEN
one  -     .       PI TRUE FALSE NA TODAY NOW RAND
one  -     r+      SUM PRODUCT SUMSQ GCD LCM AVERAGE AVERAGEA COUNT COUNTA MAX MIN MAXA MINA
one  -     r+      MEDIAN MODE MODE.SNGL
one  -     r+      STDEV STDEV.S STDEV.P STDEVP VAR VAR.S VAR.P VARP DEVSQ GEOMEAN HARMEAN AVEDEV SKEW KURT
one  -     r+      AND OR XOR
one  -     nr+     NPV
one  -     a+      SUMPRODUCT
one  -     rr      SUMX2MY2 SUMX2PY2 SUMXMY2 CORREL SLOPE INTERCEPT RSQ
one  -     rr      COVARIANCE.P COVARIANCE.S PEARSON STEYX
one  lift  rnr     SUMIF AVERAGEIF
one  lift  r(rn)+  SUMIFS AVERAGEIFS MAXIFS MINIFS
one  lift  (rn)+   COUNTIF COUNTIFS
one  -     r       COUNTBLANK COLUMNS ROWS COLUMN ROW
one  lift  rn      LARGE SMALL PERCENTILE PERCENTILE.INC PERCENTILE.EXC QUARTILE QUARTILE.INC QUARTILE.EXC
one  omit  rn      IRR
one  -     rrn     XIRR
one  -     nrr     XNPV
one  -     rnn     MIRR
one  both  nrn     RANK RANK.EQ RANK.AVG
one  -     nrr     FORECAST FORECAST.LINEAR
one  -     nr+     SUBTOTAL
one  omit  nna+    AGGREGATE
one  -     r       FORMULATEXT ISFORMULA SHEET SHEETS AREAS ISREF
one  -     nr      CELL
one  -     n       TYPE
one  both  nrnn    VLOOKUP HLOOKUP
one  lift  naa     LOOKUP
one  both  nrn     MATCH
one  both  nrnn    XMATCH
pass omit  npp     IF
pass -     (np)+   IFS
pass omit  pp      IFERROR IFNA
pass -     np+     CHOOSE
pass -     n(np)+p SWITCH
ref  both  ann     INDEX
ref  omit  rnnnn   OFFSET
ref  -     nn      INDIRECT
ref  both  nrrpnn  XLOOKUP
one  both  nnnnn   ADDRESS
arr  -     a       TRANSPOSE
arr  omit  ann     UNIQUE
arr  -     aap     FILTER
arr  omit  ann     TAKE DROP
arr  omit  aaan    SORT
arr  omit  aanananan SORTBY
arr  omit  nnnn    SEQUENCE
arr  -     a+      HSTACK VSTACK
arr  -     an+     CHOOSECOLS CHOOSEROWS
arr  omit  ann     TOCOL TOROW
arr  -     aa      MMULT FREQUENCY
arr  omit  aann    LINEST LOGEST
arr  omit  aaan    TREND GROWTH
arr  -     a       MINVERSE
one  -     a       MDETERM
one  lift  n       CHAR UNICHAR UNICODE ARABIC
one  lift  t       LEN LOWER UPPER TRIM
one  lift  t       CODE
one  lift  t       PROPER CLEAN
one  lift  tn      LEFT RIGHT
one  lift  tnn     MID
one  lift  tnnt    REPLACE
one  lift  tn      REPT
one  lift  ttn     FIND SEARCH
one  lift  tt      EXACT
one  lift  tttn    SUBSTITUTE
one  both  tannnn  TEXTBEFORE TEXTAFTER
arr  omit  taannn  TEXTSPLIT
arr  both  ann     WRAPROWS WRAPCOLS
arr  both  annn    EXPAND
arr  -     n       MUNIT
one  lift  t+      CONCATENATE
one  -     r+      CONCAT
one  -     tnr+    TEXTJOIN
one  lift  nn      TEXT HYPERLINK
one  both  nnn     FIXED
one  lift  nn      DOLLAR
one  lift  tnn     NUMBERVALUE
one  lift  n       VALUE DATEVALUE TIMEVALUE
one  both  nnn     DATE TIME
one  lift  nnn     DATEDIF
one  lift  nn      DAYS
one  both  nnn     DAYS360 YEARFRAC
one  lift  n       DAY MONTH YEAR HOUR MINUTE SECOND
one  lift  nn      WEEKDAY
one  lift  nn      EDATE EOMONTH
one  lift  nn      WEEKNUM
one  lift  n       ISOWEEKNUM
one  omit  nnr     NETWORKDAYS WORKDAY
one  omit  nnnr    NETWORKDAYS.INTL WORKDAY.INTL
one  both  nnnnn   PMT PV FV NPER
one  both  nnnnnn  IPMT PPMT
one  lift  nnnnnn  CUMIPMT CUMPRINC
one  lift  nn      EFFECT NOMINAL
one  -     nnnnnn  RATE
one  lift  nnn     SLN
one  lift  nnnn    SYD ISPMT
one  both  nnnnn   DDB DB
one  both  nnnnnnn VDB
one  lift  nnn     RRI PDURATION
one  lift  nn      DOLLARDE DOLLARFR
one  -     nr      FVSCHEDULE
one  lift  n       IMABS IMREAL IMAGINARY IMARGUMENT IMCONJUGATE IMEXP IMLN IMSQRT
one  lift  n       IMLOG10 IMLOG2 IMSIN IMCOS IMTAN IMSINH IMCOSH IMSEC IMCSC IMCOT IMSECH IMCSCH
one  both  nnn     COMPLEX
one  lift  nn      IMSUB IMDIV IMPOWER
one  -     r+      IMSUM IMPRODUCT
one  lift  nn      BIN2OCT BIN2HEX OCT2BIN OCT2HEX DEC2BIN DEC2OCT DEC2HEX HEX2BIN HEX2OCT
one  lift  n       BIN2DEC OCT2DEC HEX2DEC ERFC ERF.PRECISE ERFC.PRECISE FACTDOUBLE
one  lift  n       COT SEC CSC COTH SECH CSCH ACOT ACOTH
one  lift  nn      PERMUT PERMUTATIONA COMBINA DELTA GESTEP BITLSHIFT BITRSHIFT BESSELK
one  -     r+      MULTINOMIAL
one  -     nnnr    SERIESSUM
one  lift  nnn     BASE CONVERT
one  lift  nn      ROMAN DECIMAL BITAND BITOR BITXOR ERF BESSELJ BESSELY BESSELI
one  lift  n       NORM.S.INV NORMSINV NORMSDIST
one  lift  nn      NORM.S.DIST
one  lift  nnnn    NORM.DIST NORMDIST
one  lift  nnn     NORM.INV NORMINV
one  lift  nnnn    BINOM.DIST BINOMDIST BINOM.DIST.RANGE NEGBINOM.DIST WEIBULL.DIST WEIBULL HYPGEOMDIST
one  lift  nnnn    F.DIST GAMMA.DIST GAMMADIST LOGNORM.DIST
one  lift  nnnnn   HYPGEOM.DIST BETADIST BETA.INV BETAINV
one  lift  nnnnnn  BETA.DIST
one  lift  nnn     T.DIST TDIST CHISQ.DIST F.DIST.RT FDIST F.INV F.INV.RT FINV BINOM.INV CRITBINOM
one  lift  nnn     NEGBINOMDIST POISSON.DIST POISSON EXPON.DIST EXPONDIST GAMMA.INV GAMMAINV LOGNORMDIST
one  lift  nnn     LOGNORM.INV LOGINV CONFIDENCE CONFIDENCE.NORM CONFIDENCE.T STANDARDIZE
one  lift  nn      T.DIST.RT T.DIST.2T T.INV T.INV.2T TINV CHISQ.DIST.RT CHIDIST CHISQ.INV CHISQ.INV.RT CHIINV
one  lift  n       GAMMA GAMMALN GAMMALN.PRECISE PHI GAUSS FISHER FISHERINV
one  lift  rnn     PERCENTRANK PERCENTRANK.INC PERCENTRANK.EXC
one  -     rn      TRIMMEAN
one  -     r+      SKEW.P VARA VARPA STDEVA STDEVPA
arr  -     r+      MODE.MULT
one  -     rrnn    PROB T.TEST TTEST
one  -     rr      F.TEST FTEST CHISQ.TEST CHITEST COVAR
one  -     rnn     Z.TEST ZTEST
one  -     rnr     DSUM DAVERAGE DMAX DMIN DPRODUCT DSTDEV DSTDEVP DVAR DVARP DGET
one  omit  rnr     DCOUNT DCOUNTA
"""


@dataclass(frozen=True)
class Signature:
    """How a function takes its arguments and what it gives.

    Parameters
    ----------
    result : str
        "one" value, "ref" (cells, perhaps several), "arr" (an array), "pass" (one of its ``p`` arguments).
    lifts : bool
        Whether the function is repeated over an array given for one value, inside an array formula.
    omits : bool
        Whether an empty argument between commas is tested.
    """

    result: str
    lifts: bool
    omits: bool
    first: str
    repeated: str
    last: str

    def letters(self, count: int) -> str | None:
        """One letter per argument, None where the function does not take so many."""
        if not self.repeated:
            return self.first[:count] if count <= len(self.first) else None
        if count < len(self.first) + len(self.repeated):
            return None
        body = count - len(self.first)
        rounds, rest = divmod(body, len(self.repeated))
        letters = self.first + self.repeated * rounds
        if rest == 0:
            return letters
        return letters + self.last if rest == len(self.last) else None


_SPEC = re.compile(r"(?P<first>[a-z]*?)(?:\((?P<group>[a-z]+)\)\+|(?P<single>[a-z])\+)?(?P<last>[a-z]*)\Z")


def _signatures() -> Mapping[str, Signature]:
    found: dict[str, Signature] = {}
    for line in _TABLE.strip().splitlines():
        result, flag, spec, *names = line.split()
        match = _SPEC.match(spec.replace(".", ""))
        if match is None:
            raise ValueError(line)
        repeated = match["group"] or match["single"] or ""
        first, last = match["first"], match["last"]
        if not repeated:
            first, last = first + last, ""
        signature = Signature(
            result, flag in ("lift", "both"), flag in ("omit", "both"), first, repeated, last
        )
        found.update(dict.fromkeys(names, signature))
    return MappingProxyType(found)


SIGNATURES = _signatures()
"""Name in capitals to signature, proved or not."""

ORDINARY = MappingProxyType({name: SIGNATURES[name] for name in SIGNATURES if name in certified_names()})
"""The functions that are evaluated: those that the probe grid proved."""

ANY_ERROR, KIND_OF_ERROR, NO_ERROR, NO_BLANK, NO_CRITERION = 0, 1, 2, 3, 4
INSPECTING = (
    dict.fromkeys("ISERROR ISTEXT ISNUMBER ISNONTEXT ISLOGICAL ISBLANK TYPE".split(), ANY_ERROR)
    | dict.fromkeys("ISNA ISERR IFNA ERROR.TYPE".split(), KIND_OF_ERROR)
    | dict.fromkeys("COUNT COUNTA".split(), NO_ERROR)
)
"""Functions that look at errors: at any, at its kind, or rightly only where a single value is none.

The last but one is for arrays, of which programs count blank cells in different ways, the last for criteria.
"""

VOLATILE = frozenset({"TODAY", "NOW", "RAND", "RANDBETWEEN"})
CHOOSING = frozenset({"IF", "IFS", "SWITCH", "CHOOSE"})
"""Functions that choose among values; in array formulas by every condition of an array."""

LOGICAL = frozenset({"IF", "IFS", "NOT", "AND", "OR", "XOR"})
"""Functions that ask for conditions."""

ANY_KIND = frozenset(INSPECTING) | {"N", "T", "SWITCH", "XLOOKUP"}
"""Functions whose arguments for one value may be of any kind."""

ADDING_UP = frozenset(
    "SUM PRODUCT SUMSQ AVERAGE AVERAGEA MAX MIN MAXA MINA MEDIAN STDEV STDEV.S STDEV.P STDEVP VAR VAR.S "
    "VAR.P VARP DEVSQ GEOMEAN HARMEAN AVEDEV SKEW KURT NPV".split()
)
"""Functions that read a text as a number where it is an argument of its own, not where it is in a range."""

COUNTING_TEXT = frozenset("AVERAGEA MAXA MINA STDEVA STDEVPA VARA VARPA".split())
"""Functions for which a text in a range is 0."""

CATCHING = frozenset(
    {"IFERROR", "ISERROR", "ISERR", "ISNUMBER", "ISTEXT", "ISNONTEXT", "ERROR.TYPE", "COUNT", "TYPE"}
)
"""Functions behind which #VALUE! would go unseen."""

CELLS_ONLY = frozenset(
    "COUNTIF COUNTIFS SUMIF SUMIFS AVERAGEIF AVERAGEIFS MAXIFS MINIFS COUNTBLANK SUBTOTAL "
    "MATCH XMATCH VLOOKUP HLOOKUP LOOKUP".split()
)
"""Functions for which a constant in the place of a range is refused."""

TAKING_APART = frozenset({"LEFT", "RIGHT", "MID"})
"""Functions that the engine lets take any text for a number of characters."""

TAKING_STEPS = frozenset(
    "LOOKUP MATCH XMATCH XLOOKUP LARGE SMALL PERCENTILE PERCENTILE.INC PERCENTILE.EXC "
    "QUARTILE QUARTILE.INC QUARTILE.EXC".split()
)
"""Functions that take an array as it stays in Python between the steps of a formula."""

SUMMING = frozenset({"SUM", "MAX", "MIN", "AVERAGE"})
"""Functions that take the one array of a step as it stays in Python."""

TOP_LEFT = frozenset("FREQUENCY LINEST LOGEST TREND GROWTH MMULT MINVERSE MODE.MULT MUNIT".split())
"""Functions of which a formula that is no array formula shows the first value."""

LOOKING_UP = frozenset({"INDEX", "VLOOKUP", "HLOOKUP", "LOOKUP", "XLOOKUP", "MATCH", "XMATCH"})
"""Functions that the engine lets hide the error of a function of ours behind an error of their own."""

MOVING = frozenset({"OFFSET", "INDIRECT"})
"""Functions whose cells cannot be told from the text of the formula."""

MEASURING = frozenset({"ROW", "ROWS", "COLUMN", "COLUMNS"})
"""Functions that look at where cells are and not at what they hold."""
