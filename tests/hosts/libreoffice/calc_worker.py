"""Drives Calc through UNO: reads one JSON command a line, writes one JSON answer a line.

Runs in a Python that has the `uno` module. Arguments: name of the pipe on which LibreOffice listens.
"""

from __future__ import annotations

import json
import sys
import time
from pathlib import Path

import uno
import unohelper
from com.sun.star.beans import NamedValue, PropertyValue
from com.sun.star.frame import XLayoutManagerListener

ERRORS = {
    502: "#VALUE!",
    503: "#NUM!",
    504: "#VALUE!",
    519: "#VALUE!",
    521: "#NULL!",
    524: "#REF!",
    525: "#NAME?",
    532: "#DIV/0!",
    32767: "#N/A",
}
ALWAYS_RUN_MACROS, NEVER_RUN_MACROS = 4, 0
PROGRESS_BAR = "private:resource/progressbar/progressbar"
VBA_HEAD = "Rem Attribute VBA_ModuleType=VBAModule\nOption VBASupport 1\n"


def connect(pipe):
    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstance("com.sun.star.bridge.UnoUrlResolver")
    last = None
    for _ in range(600):
        try:
            return resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except Exception as problem:
            last = problem
            time.sleep(0.1)
    raise last


class Shown(unohelper.Base, XLayoutManagerListener):
    """Notes how often the layout of a window changed its progress bar."""

    def __init__(self):
        self.count = 0

    def layoutEvent(self, source, event, information):
        self.count += information == PROGRESS_BAR

    def disposing(self, event):
        pass


class Calc:
    def __init__(self, context):
        self.context = context
        manager = context.ServiceManager
        self.desktop = manager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        self.descriptions = manager.createInstanceWithContext(
            "com.sun.star.sheet.FunctionDescriptions", context
        )
        self.document = None

    def open(self, path=None, hidden=True, macros=True):
        self.close()
        given = (
            ("Hidden", hidden),
            ("MacroExecutionMode", ALWAYS_RUN_MACROS if macros else NEVER_RUN_MACROS),
        )
        options = tuple(PropertyValue(name, 0, value, 0) for name, value in given)
        url = "private:factory/scalc" if path is None else Path(path).as_uri()
        self.document = self.desktop.loadComponentFromURL(url, "_blank", 0, options)
        return self.document is not None

    def close(self):
        if self.document is not None:
            self.document.close(True)
            self.document = None
        return True

    def modified(self):
        return self.document.isModified()

    def steps_to_undo(self):
        return len(self.document.getUndoManager().getAllUndoActionTitles())

    def warned(self):
        return self.document.CurrentController.hasInfobar("xlcalc.locked")

    def reason(self, sheet, cell):
        teller = self.context.ServiceManager.createInstanceWithContext("org.xlcalc.calc.Reason", self.context)
        given = (("Model", self.document), ("Sheet", sheet), ("Cell", cell))
        return teller.execute(tuple(NamedValue(name, value) for name, value in given))

    def progress(self, sheet, cells, formulas):
        """How often the progress bar changed while formulas were computed, and whether it is gone after."""
        layout = self.document.CurrentController.Frame.LayoutManager
        shown = Shown()
        layout.addLayoutManagerEventListener(shown)
        area = self._range(sheet, cells)
        area.setFormulaArray(tuple((formula,) for formula in formulas))
        area.getDataArray()
        for _ in range(50):
            if not layout.isElementVisible(PROGRESS_BAR):
                break
            time.sleep(0.1)
        layout.removeLayoutManagerEventListener(shown)
        return [shown.count, layout.isElementVisible(PROGRESS_BAR)]

    def protected(self, sheet):
        return self.document.Sheets.getByName(sheet).isProtected()

    def _range(self, sheet, cells):
        return self.document.Sheets.getByName(sheet).getCellRangeByName(cells)

    def write(self, sheet, cell, value):
        target = self._range(sheet, cell)
        if isinstance(value, str):
            target.Formula = value
        else:
            target.Value = value
        return True

    def insert_rows(self, sheet, cells):
        mode = uno.Enum("com.sun.star.sheet.CellInsertMode", "ROWS")
        self.document.Sheets.getByName(sheet).insertCells(self._range(sheet, cells).RangeAddress, mode)
        return True

    def array(self, sheet, cells, formula):
        self._range(sheet, cells).setArrayFormula(formula)
        return True

    def fill(self, sheet, cells, formulas):
        self._range(sheet, cells).setFormulaArray(tuple((formula,) for formula in formulas))
        return True

    def read(self, sheet, cells):
        area = self._range(sheet, cells)
        return [
            [
                self._shown(area.getCellByPosition(c, r)) if value is None else value
                for c, value in enumerate(row)
            ]
            for r, row in enumerate(area.getDataArray())
        ]

    def _shown(self, cell):
        error = cell.getError()
        return {"error": ERRORS.get(error, str(error))} if error else None

    def formulas(self, sheet, cells):
        return [list(row) for row in self._range(sheet, cells).getFormulaArray()]

    def seconds(self, sheet, cell, value, cells):
        """Time to put a number into a cell and read what depends on it."""
        area = self._range(sheet, cells)
        start = time.perf_counter()
        self._range(sheet, cell).Value = value
        area.getDataArray()
        return time.perf_counter() - start

    def basic(self, source):
        libraries = self.document.BasicLibraries
        if not libraries.hasByName("Standard"):
            libraries.createLibrary("Standard")
        libraries.VBACompatibilityMode = True
        libraries.getByName("Standard").insertByName("Module1", VBA_HEAD + source)
        return True

    def modules(self):
        """Texts of the modules that came with the file, by name."""
        library = self.document.BasicLibraries.getByName("VBAProject")
        return {name: library.getByName(name) for name in library.ElementNames}

    def run(self, macro):
        """Run a macro that came with the file."""
        name = f"vnd.sun.star.script:VBAProject.{macro}?language=Basic&location=document"
        self.document.getScriptProvider().getScript(name).invoke((), (), ())
        return True

    def wizard(self, prefix):
        found = {}
        for index in range(self.descriptions.Count):
            texts = {item.Name: item.Value for item in self.descriptions.getByIndex(index)}
            if texts["Name"].startswith(prefix):
                arguments = [[a.Name, a.Description] for a in texts["Arguments"] or ()]
                found[texts["Name"]] = [texts["Category"], texts["Description"], arguments]
        return found

    def quit(self):
        self.close()
        self.desktop.terminate()
        return True


def main():
    calc = Calc(connect(sys.argv[1]))
    for line in sys.stdin:
        name, arguments = json.loads(line)
        try:
            answer = {"result": getattr(calc, name)(*arguments)}
        except Exception as problem:
            answer = {"problem": f"{type(problem).__name__}: {problem}"}
        print(json.dumps(answer), flush=True)
        if name == "quit":
            return


if __name__ == "__main__":
    main()
