"""Memory of one process that recalculates many workbooks, as a worker of a pool does.

Growth is measured from the third book on, when caches have their size. Run with
``XLCALC_BOOKS=200 pytest -s tests/benchmarks/test_memory_growth.py`` for 200 books of each template.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from xlcalc.core import resources

BOOKS = int(os.environ.get("XLCALC_BOOKS", "6"))
MOST_GROWTH = 0.05
CHILD = """
import gc, sys
from pathlib import Path
from xlcalc.recalc.recalc import recalculate
from xlcalc.worksheet.catalogue import FUNCTIONS

def resident():
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith("VmRSS")).split()[1]) / 1024

source, target, books = Path(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3])
for number in range(books):
    recalculate(source, target, FUNCTIONS)
    gc.collect()
    print(resident())
"""


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc to measure memory")
@pytest.mark.parametrize("name", ["drive_study", "front_end_comparison", "plant_study"])
def test_growth_of_a_process_that_recalculates_many_books(name: str, tmp_path: Path) -> None:
    command = [
        sys.executable,
        "-c",
        CHILD,
        str(resources.template(name)),
        str(tmp_path / "o.xlsx"),
        str(BOOKS),
    ]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    sizes = [float(line) for line in done.stdout.split()]
    early, late = min(sizes[2:5]), min(sizes[-3:])
    print(f"\n{name}: {early:.0f} MB early, {late:.0f} MB after {BOOKS} books ({late / early - 1:+.1%})")
    assert late <= early * (1 + MOST_GROWTH)
