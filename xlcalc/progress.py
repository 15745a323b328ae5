"""How long computations tell what they have done."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]
"""Called with what is done and the whole; what it raises stops the computation."""
