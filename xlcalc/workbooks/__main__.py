"""Build the templates: ``python -m xlcalc.workbooks [FOLDER]``, by default the folder they ship in."""

from __future__ import annotations

import sys
from pathlib import Path

from xlcalc.core import resources
from xlcalc.workbooks.build import build_all

if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else resources.folder("workbook_templates")
    for path in build_all(target):
        print(path)
