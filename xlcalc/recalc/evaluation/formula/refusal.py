"""The exception for a formula that cannot be evaluated for certain."""

from __future__ import annotations


class Refusal(Exception):
    """The formula keeps its old value; the message gives the reason in plain words."""


class UnknownFunctionError(Refusal):
    """The formula calls a function that is neither ours nor one of the tested ordinary ones."""
