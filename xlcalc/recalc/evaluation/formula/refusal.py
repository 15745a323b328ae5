"""The one way in which the headless host says that it cannot evaluate a formula for certain."""

from __future__ import annotations


class Refusal(Exception):
    """The formula keeps its old value; the message says why in plain words."""


class UnknownFunctionError(Refusal):
    """The formula calls a function that is neither ours nor one of the tested ordinary ones."""
