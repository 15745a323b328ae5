"""Starts LibreOffice and lets it compute workbooks; runs in a Python that has its `uno` module.

Arguments: program, folder of the profile. Reads one JSON request a line (source and target), writes one JSON
answer a line. The first answer, without a request, names version and functions. LibreOffice ends with the
input, so that none is left behind by a process that was killed.
"""

from __future__ import annotations

import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import uno  # type: ignore[import-not-found]
from com.sun.star.beans import PropertyValue  # type: ignore[import-not-found]

START_SECONDS = 120
XLSX = "Calc MS Excel 2007 XML"
NEVER = 0


def started(program: str, profile: Path) -> tuple[subprocess.Popen[bytes], str]:
    """A LibreOffice of its own, and the name of the pipe on which it listens."""
    pipe = f"xlcalc-{os.getpid()}-{time.time_ns()}"
    command = [
        program,
        "--headless",
        "--invisible",
        "--norestore",
        "--nologo",
        "--nodefault",
        "--nolockcheck",
    ]
    command += [f"-env:UserInstallation={profile.as_uri()}"]
    command += [f"-env:BUNDLED_EXTENSIONS={(profile / 'none').as_uri()}", f"--accept=pipe,name={pipe};urp;"]
    quiet = subprocess.DEVNULL
    return subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet), pipe


def connected(office: subprocess.Popen[bytes], pipe: str) -> Any:
    """The component context of LibreOffice, once it answers."""
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstance("com.sun.star.bridge.UnoUrlResolver")
    end = time.monotonic() + START_SECONDS
    while True:
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except Exception:
            if time.monotonic() > end or office.poll() not in (None, 0):
                raise
            time.sleep(0.02)


def property_value(name: str, value: object) -> Any:
    made = PropertyValue()
    made.Name, made.Value = name, value
    return made


def compute(desktop: Any, source: str, target: str) -> None:
    """Open a workbook, which calculates it, and save it as .xlsx; no macro, no link, no update."""
    opening = {"Hidden": True, "ReadOnly": True, "UpdateDocMode": NEVER, "MacroExecutionMode": NEVER}
    document = desktop.loadComponentFromURL(
        Path(source).as_uri(), "_blank", 0, tuple(property_value(*item) for item in opening.items())
    )
    if document is None:
        raise ValueError("it cannot open the file")
    try:
        document.storeToURL(Path(target).as_uri(), (property_value("FilterName", XLSX),))
    finally:
        document.close(True)


def introduced(context: Any) -> dict[str, object]:
    """Version and names of the worksheet functions."""
    manager = context.ServiceManager
    access = manager.createInstanceWithContext("com.sun.star.configuration.ConfigurationProvider", context)
    product = access.createInstanceWithArguments(
        "com.sun.star.configuration.ConfigurationAccess",
        (property_value("nodepath", "/org.openoffice.Setup/Product"),),
    )
    known = manager.createInstanceWithContext("com.sun.star.sheet.FunctionDescriptions", context)
    names = []
    for number in range(known.getCount()):
        described = {item.Name: item.Value for item in known.getByIndex(number)}
        names.append(described["Name"])
    return {"version": product.getPropertyValue("ooSetupVersionAboutBox"), "functions": names}


def end_all() -> None:
    """End LibreOffice, whatever it is doing, and this process."""
    if sys.platform == "win32":
        subprocess.run(["taskkill", "/F", "/T", "/PID", str(os.getpid())], check=False)
    elif os.getpgrp() == os.getpid():
        os.killpg(0, signal.SIGKILL)
    os._exit(0)


def main(program: str, profile: str) -> None:
    office, pipe = started(program, Path(profile))
    lines: queue.Queue[str] = queue.Queue()

    def listen() -> None:
        for line in sys.stdin:
            lines.put(line)
        end_all()

    threading.Thread(target=listen, daemon=True).start()
    try:
        context = connected(office, pipe)
        desktop = context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        print(json.dumps(introduced(context)), flush=True)
        while True:
            asked = json.loads(lines.get())
            try:
                compute(desktop, asked["source"], asked["target"])
                answer = {}
            except Exception as problem:
                answer = {"problem": str(problem).strip() or type(problem).__name__}
            print(json.dumps(answer), flush=True)
    finally:
        end_all()


if __name__ == "__main__":
    main(*sys.argv[1:])
