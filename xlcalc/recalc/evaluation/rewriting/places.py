"""Functions that look at where cells are, at their formulas or at hidden rows: CELL, SHEET, SUBTOTAL."""

from __future__ import annotations

from collections.abc import Callable

from xlcalc.recalc.evaluation.formula.parts import Part
from xlcalc.recalc.evaluation.formula.references import Area, Constant
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import (
    Call,
    Group,
    Infix,
    Literal,
    Node,
    Omitted,
    Postfix,
    Reference,
)
from xlcalc.recalc.evaluation.internal import FIRST
from xlcalc.recalc.evaluation.rewriting.callrules import call_text, is_array
from xlcalc.recalc.evaluation.rewriting.computed_addresses import ComputedAddresses
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spreading import members
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, local, onward

_FIRST_PLACED = 14
_TYPE_OF_ARRAYS = "64"


class Places:
    """Rewrites calls that are about cells and not only about their values."""

    def __init__(self, setting: Setting, visit: Visit, addresses: ComputedAddresses) -> None:
        self._setting = setting
        self._visit = visit
        self._addresses = addresses
        self._calls: dict[str, Callable[[Call, str, RewriteState], Piece | None]] = {
            "SUBTOTAL": self._subtotal,
            "AGGREGATE": self._aggregate,
            "SHEET": self._sheet,
            "SHEETS": self._sheets,
            "AREAS": self._areas,
            "ISREF": self._is_reference,
            "TYPE": self._type,
            "CELL": self._cell,
            "FORMULATEXT": lambda *given: self._looked_at("_FORMULATEXT", *given),
            "ISFORMULA": lambda *given: self._looked_at("_ISFORMULA", *given),
        }

    def call(self, name: str, node: Call, context: str, state: RewriteState) -> Piece | None:
        """A call of one of these functions; None for every other."""
        rewrite = self._calls.get(name)
        return None if rewrite is None else rewrite(node, context, state)

    def _subtotal(self, node: Call, context: str, state: RewriteState) -> Piece:
        function = self._head("SUBTOTAL", node.arguments[0], context, state)
        if context == "any" and len(node.arguments) == 2:
            several = self._addresses.several(node.arguments[1], state)
            if several is not None:
                return self._setting.library("_SUBTOTALS", [function, *several]), "steps"
        ranges = [self._with_address("SUBTOTAL", argument, context, state) for argument in node.arguments[1:]]
        return self._setting.library(
            "_SUBTOTAL", [function, *(part for pair in ranges for part in pair)]
        ), "one"

    def _aggregate(self, node: Call, context: str, state: RewriteState) -> Piece:
        function, options, *ranges = node.arguments
        if isinstance(options, Omitted):
            raise Refusal("AGGREGATE without an option")
        place: list[Part] = []
        shape = "one"
        placed = len(ranges) == 2 and isinstance(ranges[1], Literal)
        if isinstance(function, Literal):
            placed = function.kind == "number" and float(function.text) >= _FIRST_PLACED
        if placed:
            if len(ranges) != 2:
                raise Refusal("AGGREGATE with so many arguments for this function number")
            several = context == "any" or is_array(ranges[1])
            place, shape = self._visit(ranges.pop(), "any" if several else "one", state)
        elif len(ranges) > 1 and not isinstance(function, Literal):
            raise Refusal("AGGREGATE with a computed function number and several ranges")
        heads = [self._head("AGGREGATE", argument, context, state) for argument in (function, options)]
        written: list[list[Part]] = []
        for argument in ranges:
            address = self._addresses.address(argument, context, state) if placed else None
            if placed and address is None:
                written += [['""'], onward(*self._visit(argument, "any", state))]
            else:
                written += self._with_address("AGGREGATE", argument, context, state)
        parts = self._setting.library("_AGGREGATE", [*heads, place or [_NO_PLACE], *written])
        return parts, shape if shape == "one" else "arr"

    def _head(self, name: str, argument: Node, context: str, state: RewriteState) -> list[Part]:
        """A function number or an option."""
        parts, shape = self._visit(argument, "any" if context == "any" else "one", state)
        if shape != "one":
            raise Refusal(f"several function numbers or options of {name}")
        return parts

    def _with_address(
        self, name: str, argument: Node, context: str, state: RewriteState
    ) -> tuple[list[Part], list[Part]]:
        address = self._addresses.address(argument, context, state)
        if address is None:
            raise Refusal(f"{name} of something that is no range of cells")
        return address, self._visit(argument, "range", state)[0]

    def _sheet(self, node: Call, context: str, state: RewriteState) -> Piece:
        tabs = self._tabs()
        name = state.sheet
        if node.arguments:
            [argument] = node.arguments
            area = self._setting.resolved_area(argument, state)
            if area is not None:
                name = area.pattern.sheet
            elif isinstance(argument, Literal) and argument.kind == "text":
                name = argument.text[1:-1].replace('""', '"')
            else:
                raise Refusal("SHEET of something that is neither cells nor a name in quotation marks")
        places = [place for place, tab in enumerate(tabs, 1) if tab.casefold() == name.casefold()]
        return ([str(places[0])] if places else ["NA()"]), "one"

    def _sheets(self, node: Call, context: str, state: RewriteState) -> Piece:
        if node.arguments:
            raise Refusal("SHEETS of a reference")
        return [str(len(self._tabs()))], "one"

    def _tabs(self) -> tuple[str, ...]:
        if not self._setting.tabs:
            raise Refusal("the number of a sheet, where the sheets are not known")
        return self._setting.tabs

    def _areas(self, node: Call, context: str, state: RewriteState) -> Piece:
        found = members(node.arguments[0], self._setting, state)
        if any(self._setting.resolved_area(member, state) is None for member in found):
            raise Refusal("AREAS of something that is not written as cells")
        return [str(len(found))], "one"

    def _is_reference(self, node: Call, context: str, state: RewriteState) -> Piece:
        inner = node.arguments[0]
        while isinstance(inner, Group):
            inner = inner.inner
        if isinstance(inner, Reference) and local(inner.text) not in state.locals:
            resolved = self._setting.references.resolve(inner.text, state.sheet, inner.slot, state.place)
            if isinstance(resolved, Area | Constant):
                return ["TRUE" if isinstance(resolved, Area) else "FALSE"], "one"
        if isinstance(inner, Reference) and self._setting.resolved_area(inner, state) is not None:
            return ["TRUE"], "one"
        if isinstance(inner, Call):
            address = self._addresses.address(inner, context, state)
            if address is not None:
                return ["NOT(ISERROR(", *address, "))"], "one"
        if isinstance(inner, Literal) or (isinstance(inner, Infix) and inner.operator not in (",", " ", ":")):
            return ["FALSE"], "one"
        raise Refusal("ISREF of something that may or may not be cells")

    def _type(self, node: Call, context: str, state: RewriteState) -> Piece | None:
        return ([_TYPE_OF_ARRAYS], "one") if is_array(node.arguments[0]) else None

    def _cell(self, node: Call, context: str, state: RewriteState) -> Piece:
        kind, *given = node.arguments
        wanted = kind.text[1:-1].lower() if isinstance(kind, Literal) and kind.kind == "text" else ""
        if not given or isinstance(given[0], Omitted):
            raise Refusal("CELL without a reference, which looks at the cell that was changed last")
        area = self._setting.resolved_area(given[0], state)
        if area is None:
            raise Refusal("CELL of something that is not written as cells")
        if wanted in ("row", "col"):
            measured = self._addresses.measured(
                "ROW" if wanted == "row" else "COLUMN", given[0], "any", state
            )
            if measured is not None:
                return [f"{FIRST}(", *measured[0], ")"], "one"
        if wanted == "address" and area.pattern.sheet == state.sheet:
            return self._looked_at("_CELLADDRESS", Call("", tuple(given)), context, state)
        if wanted in ("contents", "type"):
            value = self._visit(given[0], "range", state)[0]
            parts = call_text("INDEX", [value, ["1"], ["1"]]) if area.several else value
            return (parts if wanted == "contents" else self._setting.library("_CELLTYPE", [parts])), "one"
        raise Refusal(f"CELL of kind {wanted!r}" if wanted else "CELL of a kind that is not given as text")

    def _looked_at(self, name: str, node: Call, context: str, state: RewriteState) -> Piece:
        """A function of an address."""
        address = self._addresses.address(node.arguments[0], context, state)
        if address is None or isinstance(node.arguments[0], Postfix):
            raise Refusal(f"{name.lstrip('_')} of something that is no cell")
        return self._setting.library(name, [address]), "one"


_NO_PLACE = '""'
"""In place of the second argument of functions that have none."""
