"""``python -m xlcalc`` is the command ``xlcalc``; an interrupt is one line from start to end."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType


def main() -> None:
    """The command in a process of its own."""
    heard = signal.getsignal(signal.SIGINT) is not signal.SIG_IGN
    if heard:
        signal.signal(signal.SIGINT, _leave)
    if "--debug" not in sys.argv:
        sys.unraisablehook = lambda _: None
    from xlcalc.cli.app import main as command

    code: object = 0
    try:
        if heard:
            signal.signal(signal.SIGINT, signal.default_int_handler)
        command()
    except SystemExit as end:
        code = end.code
    except KeyboardInterrupt:
        code = _INTERRUPTED
        sys.stderr.write("Interrupted.\n")
    finally:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    if code == _INTERRUPTED:
        _end()
    sys.exit(code)  # type: ignore[arg-type]


_INTERRUPTED = 130


def _leave(_signal: int, _frame: FrameType | None) -> None:
    """Nothing has been begun yet."""
    os.write(2, b"Interrupted.\n")
    os._exit(_INTERRUPTED)


def _end() -> None:
    """Leave at once: an interrupted calculation may hold threads that are not Python's."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue
    os._exit(_INTERRUPTED)


if __name__ == "__main__":
    main()
