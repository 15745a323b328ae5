"""Which formula stands in a cell, for functions that look at formulas and not at values."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable

from xlcalc.recalc.cellnames import CellRange
from xlcalc.recalc.evaluation.calling.addresses import parsed_address
from xlcalc.recalc.evaluation.content import ArrayMark
from xlcalc.recalc.evaluation.engine import Raw
from xlcalc.recalc.evaluation.feeding.formulas import Formulas
from xlcalc.recalc.evaluation.feeding.prepared import Prepared
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import Call, parse
from xlcalc.recalc.evaluation.library.values import Uncertain, fail
from xlcalc.recalc.evaluation.rewriting.spellings import plain_name
from xlcalc.schema.values import ErrorCode

_SUMMARY = re.compile(r"\b(?:SUBTOTAL|AGGREGATE)\s*\(", re.IGNORECASE)
_PREFIX = re.compile(r"_xl(?:fn|ws|udf)\.", re.IGNORECASE)


class CellFormulas:
    """An index of the formulas by cell, made when it is first asked for."""

    def __init__(self, formulas: Formulas) -> None:
        self._formulas = formulas
        self._cells: dict[str, dict[tuple[int, int], int]] | None = None
        self._arrays: dict[str, list[CellRange]] = {}
        self._summaries: dict[str, dict[tuple[int, int], str]] = {}

    def callbacks(self) -> dict[str, Callable[..., Raw]]:
        """By name; each takes the number of the formula first."""
        return {"_FORMULATEXT": self.text, "_ISFORMULA": self.is_formula}

    def text(self, formula: int, address: Raw) -> Raw:
        """FORMULATEXT; refused where the program shows the formula in another way than the file has it."""
        item = self._at(address)
        if item is None:
            return fail(ErrorCode.NA)
        text = _PREFIX.sub("", item.source.text)
        if item.source.mark is not ArrayMark.PLAIN or "[" in text or "_xl" in text.lower():
            raise Uncertain("the text of an array formula, or of one with names of a table or variables")
        return "=" + text

    def is_formula(self, formula: int, address: Raw) -> Raw:
        """ISFORMULA."""
        return self._at(address) is not None

    def summaries(self, sheet: str) -> dict[tuple[int, int], str]:
        """Cells with SUBTOTAL or AGGREGATE, and which of them the whole formula is; empty for a part."""
        if sheet not in self._summaries:
            found: dict[tuple[int, int], str] = {}
            for cell, identity in self._index().get(sheet, {}).items():
                text = self._formulas[identity].source.text
                if _SUMMARY.search(text):
                    found[cell] = _whole_call(text)
            self._summaries[sheet] = found
        return self._summaries[sheet]

    def _at(self, address: Raw) -> Prepared | None:
        """The formula of the top left cell."""
        sheet, area = parsed_address(address)
        if area.area > 1:
            raise Uncertain("the formula of several cells")
        row, col = area.first_row, area.first_col
        identity = self._index().get(sheet, {}).get((row, col))
        if identity is not None:
            return self._formulas[identity]
        if any(covered.contains(row, col) for covered in self._arrays.get(sheet, ())):
            raise Uncertain("the formula of a cell inside an array")
        return None

    def _index(self) -> dict[str, dict[tuple[int, int], int]]:
        if self._cells is None:
            cells: defaultdict[str, dict[tuple[int, int], int]] = defaultdict(dict)
            for item in self._formulas:
                cells[item.sheet][item.source.row, item.source.col] = item.identity
                if item.area.area > 1:
                    self._arrays.setdefault(item.sheet, []).append(item.area)
            self._cells = dict(cells)
        return self._cells


def _whole_call(text: str) -> str:
    try:
        tree = parse(text)
    except Refusal:
        return ""
    name = plain_name(tree.name)[0] if isinstance(tree, Call) else ""
    inner = any(_SUMMARY.search(piece) for piece in text.split("(")[1:]) if name else False
    return name if name in ("SUBTOTAL", "AGGREGATE") and not inner else ""
