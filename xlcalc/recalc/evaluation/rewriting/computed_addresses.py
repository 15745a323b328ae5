"""Cells whose address is computed: OFFSET, INDIRECT, INDEX at the end of a range; and where cells are."""

from __future__ import annotations

from xlcalc.recalc.evaluation.formula.parts import Part
from xlcalc.recalc.evaluation.formula.references import Area, Name
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import (
    Call,
    Group,
    Infix,
    Node,
    Omitted,
    Reference,
    parse,
)
from xlcalc.recalc.evaluation.internal import EMPTY, FIRST
from xlcalc.recalc.evaluation.rewriting.callrules import call_text
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spellings import plain_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, fit, local


class ComputedAddresses:
    """Rewrites what gives or asks for addresses."""

    def __init__(self, setting: Setting, visit: Visit) -> None:
        self._setting = setting
        self._visit = visit

    def moved(self, node: Node, context: str, state: RewriteState) -> Piece | None:
        """Cells whose address is computed; None where it cannot be followed."""
        address = self.address(node, context, state)
        if address is None:
            return None
        state.moving = True
        return fit((["INDIRECT(", *self._setting.library("_MEET", [address]), ")"], "ref"), context)

    def several(self, node: Node, state: RewriteState) -> list[list[Part]] | None:
        """OFFSET by arrays of numbers: the address of the cells around all, these cells, base and numbers.

        None for everything else.
        """
        while isinstance(node, Group):
            node = node.inner
        if not isinstance(node, Call) or plain_name(node.name)[0] != "OFFSET":
            return None
        base, *steps = node.arguments
        if not 2 <= len(steps) <= 4 or any(isinstance(step, Omitted) for step in steps):
            return None
        pieces = [self._visit(step, "any", state) for step in steps]
        if all(shape == "one" for _, shape in pieces):
            return None
        address = self.address(base, "one", state)
        if address is None:
            return None
        given = [address, *(parts for parts, _ in pieces)]
        around = self._setting.library("_AROUND", given)
        state.moving = True
        return [around, ["INDIRECT(", *self._setting.library("_MEET", [around]), ")"], *given]

    def measured(self, name: str, argument: Node, context: str, state: RewriteState) -> Piece | None:
        """ROW, ROWS, COLUMN or COLUMNS, which do not depend on what the cells hold."""
        address = self.address(argument, context, state)
        if address is None:
            return None
        parts = self._setting.library("_" + name, [address])
        if name in ("ROWS", "COLUMNS"):
            return parts, "one"
        if context == "any":
            return parts, "steps"
        resolved = self._setting.resolved_area(argument, state)
        if context == "range" and resolved is not None and resolved.several:
            raise Refusal(f"{name} of several cells in a formula that is not an array formula")
        if resolved is not None:
            return [f"{FIRST}(", *parts, ")"], "one"
        return fit((parts, "arr"), "one")

    def address(self, node: Node, context: str, state: RewriteState) -> list[Part] | None:
        """The address of cells as text, computed where needed; None for anything that has none."""
        kept = len(state.bases), len(state.areas)
        found = self._address_text(node, "any" if context == "any" else "one", state)
        if found is None:
            del state.bases[kept[0] :], state.areas[kept[1] :]
        return found

    def _address_text(self, node: Node, context: str, state: RewriteState) -> list[Part] | None:
        if isinstance(node, Group):
            return self._address_text(node.inner, context, state)
        if isinstance(node, Reference):
            return self._base(node, context, state)
        if isinstance(node, Infix) and node.operator == ":":
            return self._addresses("_SPAN", (node.left, node.right), 2, context, state)
        if isinstance(node, Infix) and node.operator == " ":
            return self._addresses("_CROSS", (node.left, node.right), 2, context, state)
        if not isinstance(node, Call) or self._setting.is_own_call(node):
            return None
        name, arguments = plain_name(node.name)[0], node.arguments
        if name == "INDIRECT" and len(arguments) in (1, 2):
            return self._addresses("_ADDRESS", arguments, 0, context, state)
        if name == "OFFSET" and 3 <= len(arguments) <= 5:
            return self._addresses("_OFFSET", arguments, 1, context, state)
        if name == "INDEX" and len(arguments) in (2, 3):
            return self._addresses("_CELL", arguments, 1, context, state)
        if name == "XLOOKUP" and len(arguments) == 3:
            place = Call("XMATCH", arguments[:2])
            return self._addresses("_FOUND", (arguments[2], arguments[1], place), 2, context, state)
        if name in ("IF", "CHOOSE") and len(arguments) > 2:
            return self._one_of(name, arguments, context, state)
        return None

    def _one_of(
        self, name: str, arguments: tuple[Node, ...], context: str, state: RewriteState
    ) -> list[Part] | None:
        """IF or CHOOSE between cells."""
        first, *others = arguments
        chooses, shape = self._visit(first, context, state)
        if shape != "one":
            return None
        written = [self._address_text(other, context, state) for other in others]
        known = [part for part in written if part is not None]
        if len(known) < len(written):
            return None
        wanted = "_LOGICAL" if name == "IF" else "_INDEX"
        return call_text(name, [self._setting.library(wanted, [chooses]), *known])

    def _addresses(
        self, name: str, arguments: tuple[Node, ...], bases: int, context: str, state: RewriteState
    ) -> list[Part] | None:
        """A call that computes an address; so many of its arguments are addresses themselves."""
        written: list[list[Part]] = []
        for index, argument in enumerate(arguments):
            if isinstance(argument, Omitted):
                written.append([f'"{EMPTY}"'])
                continue
            address = self._address_text(argument, context, state) if index < bases else None
            if index < bases and address is None:
                return None
            if address is None:
                address, shape = self._visit(argument, context, state)
                if shape != "one":
                    raise Refusal("an array for one value of OFFSET, INDIRECT or INDEX")
            written.append(address)
        return self._setting.library(name, written)

    def _base(self, node: Reference, context: str, state: RewriteState) -> list[Part] | None:
        """The address of a reference or of what a name stands for."""
        if local(node.text) in state.locals:
            area = state.locals[local(node.text)].area
            if area is None:
                return None
            state.bases.append(area)
            return self._setting.library("_AREA", [[str(len(state.bases) - 1)]])
        if local(node.text) in state.functions:
            return None
        resolved = self._setting.references.resolve(node.text, state.sheet, node.slot, state.place)
        if isinstance(resolved, Area):
            state.bases.append(resolved.pattern)
            return self._setting.library("_AREA", [[str(len(state.bases) - 1)]])
        if not isinstance(resolved, Name):
            return None
        with state.inside(resolved):
            return self._address_text(parse(resolved.text, fixed=True), context, state)
