"""What Excel starts: `python -P -B -m xlcalc.hosts.excel.serve CLSID` serves the worksheet functions.

Everything that may fail is done before Excel is answered, and a start that hangs ends by itself, for Excel
waits as long as this process lives. What went wrong is kept in a file that `xlcalc host check excel` reads.
"""

from __future__ import annotations

import os
import sys
import threading
import traceback
from pathlib import Path

LONGEST_START = 25.0
"""Seconds after which a start that hangs is given up."""


def log_file() -> Path:
    """Log file of the last start."""
    return Path(os.environ.get("LOCALAPPDATA") or Path.home() / ".cache") / "xlcalc" / "excel.log"


def serve(identity: str, log: Path) -> None:
    """Load the functions and serve them until Excel ends.

    Parameters
    ----------
    identity : str
        Class identifier under which Excel looks for the server.
    log : Path
        File for everything that is printed, for no window shows it.
    """
    os.chdir(sys.prefix)
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("w", encoding="utf-8", buffering=1) as output:
        sys.stdout = sys.stderr = output
        guard = threading.Timer(LONGEST_START, _give_up)
        guard.daemon = True
        guard.start()
        try:
            import xlwings

            import xlcalc.hosts.excel.udfs  # noqa: F401 -- the first call need not wait for it
        except BaseException:
            traceback.print_exc()
            raise SystemExit(1) from None
        guard.cancel()
        xlwings.serve(identity)  # type: ignore[call-arg]


def _give_up() -> None:
    print(f"The start took longer than {LONGEST_START:g} s and was given up.", flush=True)
    os._exit(1)


if __name__ == "__main__":
    serve(sys.argv[1], log_file())
