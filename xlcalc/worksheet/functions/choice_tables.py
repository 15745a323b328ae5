"""Options and terms of a choice from the tables of a sheet."""

from __future__ import annotations
