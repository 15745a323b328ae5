"""Arrays that stay here while a short text goes through the engine in their place."""

from __future__ import annotations

from xlcalc.hosts.headless.engine import Raw, constant_array
from xlcalc.hosts.headless.internal import HELD


class Held:
    """Arrays on their way into our functions, and the texts that stand for them."""

    def __init__(self) -> None:
        self._arrays: list[Raw] = []
        self._by_identity: dict[int, str] = {}
        self._constants: dict[str, str] = {}

    def keep(self, array: Raw) -> str:
        """The text for an array; the same one for the same object."""
        text = self._by_identity.get(id(array))
        if text is None:
            text = self._by_identity[id(array)] = f"{HELD}{len(self._arrays)}"
            self._arrays.append(array)
        return text

    def constant(self, text: str) -> str:
        """The text for an array constant as a formula writes it."""
        if text not in self._constants:
            self._constants[text] = self.keep(constant_array(text))
        return self._constants[text]

    def let_go(self, raw: Raw) -> Raw:
        """The array behind a text, and everything else as it is."""
        if isinstance(raw, str) and raw.startswith(HELD):
            return self._arrays[int(raw.removeprefix(HELD))]
        return raw
