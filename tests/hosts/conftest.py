"""What of this folder is no test: a program that LibreOffice's own Python runs."""

from __future__ import annotations

collect_ignore = ["libreoffice/calc_worker.py"]
