"""Calls of our own functions."""

from __future__ import annotations

from xlcalc.recalc.evaluation.engine import EngineError
from xlcalc.recalc.evaluation.formula.parts import AreaPattern, Identity, OwnCall, Part
from xlcalc.recalc.evaluation.formula.refusal import Refusal
from xlcalc.recalc.evaluation.formula.syntax import ArrayConstant, Call, Node, Omitted, Reference
from xlcalc.recalc.evaluation.internal import EMPTY, HOLD
from xlcalc.recalc.evaluation.rewriting.setting import Setting, Visit
from xlcalc.recalc.evaluation.rewriting.spellings import own_name
from xlcalc.recalc.evaluation.rewriting.state import Piece, RewriteState, fit, local


class OwnCalls:
    """Rewrites calls of our functions, with the cells that stand for their arguments."""

    def __init__(self, setting: Setting, visit: Visit) -> None:
        self._setting = setting
        self._visit = visit

    def call(self, name: str, node: Call, context: str, state: RewriteState) -> Piece:
        """A call of the function of that name."""
        arguments = list(node.arguments)
        while arguments and isinstance(arguments[-1], Omitted):
            arguments.pop()
        number = len(state.own_calls)
        state.own_calls.append(OwnCall(name))
        parts: list[Part] = [f"{name}(", Identity(), f",{number}"]
        areas: list[AreaPattern | None] = []
        for argument in arguments:
            parts.append(",")
            if isinstance(argument, Omitted):
                parts.append(f'"{EMPTY}"')
                areas.append(None)
            else:
                areas.append(self.area(argument, state))
                inner = self._visit(argument, "any" if context == "any" else "range", state)[0]
                parts += self._held(argument, inner)
        state.own_calls[number] = OwnCall(name, tuple(areas))
        parts.append(")")
        function = self._setting.functions[name]
        self._setting.called.add(name)
        state.volatile |= function.volatile
        return fit((parts, "one" if function.shape is None else "own"), context)

    def area(self, node: Node, state: RewriteState) -> AreaPattern | None:
        """The cells that a reference or a name stands for, so that a reason can name one of them."""
        if isinstance(node, Reference) and local(node.text) in state.locals:
            return state.locals[local(node.text)].area
        area = self._setting.resolved_area(node, state)
        return None if area is None else area.pattern

    def _held(self, argument: Node, parts: list[Part]) -> list[Part]:
        """What goes straight into a function of ours, arrays as texts: the engine need not carry them.

        Formulas that hold an array constant also cost it several times the memory of others.
        """
        if isinstance(argument, ArrayConstant):
            try:
                return [f'"{self._setting.arrays.constant(argument.text)}"']
            except EngineError:
                raise Refusal(f"the array constant {argument.text}, which lacks a value") from None
        functions = self._setting.functions
        inner = own_name(argument.name, functions) if isinstance(argument, Call) else None
        if inner is None or functions[inner].shape is None or parts[0] != f"{inner}(":
            return parts
        return [HOLD + f"{inner}(", *parts[1:]]
