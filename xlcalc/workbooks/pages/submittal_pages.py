"""The pages of a submittal: a cover, the printed sheets of the computed workbook, and a record."""

from __future__ import annotations

from typing import Final

from openpyxl.workbook import Workbook
from openpyxl.worksheet.datavalidation import DataValidationList
from openpyxl.worksheet.header_footer import HeaderFooter
from openpyxl.worksheet.worksheet import Worksheet

import xlcalc
from xlcalc.drawing import style
from xlcalc.files.books import names
from xlcalc.standards.verdict import FAIL, NO_VERDICT, PASS
from xlcalc.workbooks.drive.notes_text import CAUTIONS
from xlcalc.workbooks.kit import marks, page
from xlcalc.workbooks.kit.labels import label
from xlcalc.workbooks.pages.submittal_digest import Part
from xlcalc.workbooks.pages.submittal_drives import DATA, FRONT_ENDS, front_end_sheets
from xlcalc.workbooks.pages.submittal_fit import fit
from xlcalc.workbooks.pages.submittal_front import BASIS, DIAGRAM, basis_sheet, diagram_sheet, for_a_reader
from xlcalc.workbooks.pages.submittal_magnetics import MAGNETICS, is_needed, magnetics_sheet
from xlcalc.workbooks.pages.submittal_plant import grid
from xlcalc.workbooks.pages.submittal_record import CELLS, Made, write_cells
from xlcalc.workbooks.pages.submittal_source import Source, print_cells, printed_sheets

COVER: Final = "Submittal"
RECORD: Final = "Record"
COLUMNS: Final = 4
WIDTHS: Final = (30.0, 40.0, 22.0, 24.0)
PAPERS: Final = {"a4": 9, "letter": 1}
SIGNATURE_HEIGHT: Final = 20.0
ROLES: Final = {
    "Summary": "Results against limits",
    "Choice": "Chosen mix",
    "Mix": "Chosen mix",
    "Runners-up": "Chosen mix",
    "Savings": "Chosen mix",
    "Front": "Chosen mix",
    "Impedance": "Equipment checks",
    "Transformers": "Equipment checks",
    "Equipment": "Equipment checks",
    "Power and losses": "Equipment checks",
    "Site": "Inputs",
    "Study": "Inputs",
    "Network": "Inputs",
    "Drives": "Inputs",
    "Equipment data": "Inputs",
    "Options": "Inputs",
    "Terms": "Inputs",
    "Front ends": "Inputs",
    "Prices": "Inputs",
    "Residual": "Inputs",
    "Notes": "Method and sources",
}
ORDER: Final = ("Results against limits", "Chosen mix", "Equipment checks", "Inputs", "Method and sources")
SOLVED: Final = f", but for those of the sheet {FRONT_ENDS}, which are solved from its inputs"
NOT_PROTECTED: Final = (
    "Not protected: that the inputs are right, a workbook that was altered before its pages were made or "
    "whose pages somebody else made anew (only a signature shows who made them), what is printed or exported "
    "as PDF, and dates, order and compression inside the files."
)
PROVES: Final = (
    "The digests are SHA-256 over a plain form of every cell: inputs (constants, formulas, names) and "
    "results (values of formula cells), numbers to 15 digits. Formats, charts and settings of the workbook "
    "have checksums of their own in the hidden record.",
    "To check: xlcalc submittal BOOK.xlsx --check SUBMITTAL.xlsx makes these pages again from the workbook "
    "and names everything in them and in the workbook that differs; --check DIGEST compares with the digest "
    "on paper alone.",
    "A workbook that a spreadsheet program saved has lost the stamp of its calculation; no pages are made of "
    "it until xlcalc recalc has calculated it. A check still compares its cells: saving alone leaves inputs "
    "and formulas equal (tried with LibreOffice Calc; Excel not tried). Results that the program calculated "
    "anew or lost, because it lacks the functions, are named, and so are formats that it spells another way.",
    f"{NOT_PROTECTED} Calculate the workbook again (xlcalc recalc) to see whether the results follow from "
    "the inputs.",
)


def assemble(source: Source, paper: str = "a4") -> Workbook:
    """The submittal of a computed workbook; its book is changed and returned."""
    book = source.book
    assumed = names.ASSUMED_TEXT in book.defined_names
    stated = str(grid(book, names.ASSUMED_TEXT, source.name)[0][0] or "") if assumed else ""
    printed = printed_sheets(book)
    kept = [sheet.title for sheet in printed]
    for sheet in book.worksheets:
        if sheet.title not in kept:
            if sheet.title in _drawn(printed):
                sheet.sheet_state = "hidden"
            else:
                book.remove(sheet)
    for shown in printed:
        _still(shown)
        for_a_reader(shown)
        shown.print_area = cells = print_cells(shown)
        fit(shown, cells)
    contents = _arrange(book, printed)
    cover = book.create_sheet(_free(book, COVER), 0)
    front = [cover]
    if source.drawing is not None:
        front.append(book.create_sheet(_free(book, DIAGRAM), 1))
        diagram_sheet(front[-1], source.drawing)
        contents.insert(0, ("Plant", front[-1].title))
    if assumed:
        front.append(book.create_sheet(_free(book, BASIS), len(front)))
        fit(front[-1], names.area(1, 1, basis_sheet(front[-1], stated), COLUMNS))
        contents.append(("Basis and verification", front[-1].title))
    results = sum(role(sheet.title) == ORDER[0] for sheet in printed)
    if source.kinds:
        shown = book.create_sheet(_free(book, FRONT_ENDS), len(front) + results)
        data = book.create_sheet(_free(book, DATA))
        front_end_sheets(shown, data, source.kinds)
        fit(shown, print_cells(shown))
        front.append(shown)
        contents.insert(1 + results, ("Drives, one by one", shown.title))
    if is_needed(source.magnetics):
        order = book.create_sheet(_free(book, MAGNETICS), len(front) + results)
        magnetics_sheet(order, source.magnetics, source.hertz)
        fit(order, print_cells(order))
        front.append(order)
        contents.insert(2 + results, ("Magnetics to order", order.title))
    _cover(cover, source, contents)
    record = book.create_sheet(_free(book, RECORD))
    _record(record, source)
    for sheet in (*front, *printed, record):
        _running(sheet, source)
        sheet.page_setup.paperSize = PAPERS[paper]
    made = Made(source.name, paper, source.proven is not None, xlcalc.__version__)
    write_cells(book.create_sheet(CELLS), made, source.record)
    book.active = 0
    for sheet in book.worksheets:
        sheet.sheet_view.tabSelected = sheet is cover
    book.properties.title = "Submittal"
    return book


def role(title: str) -> str:
    """Under which heading a sheet stands."""
    return ROLES.get(title, ORDER[0])


def _drawn(sheets: list[Worksheet]) -> set[str]:
    """Sheets whose cells the charts show."""
    found = set()
    for sheet in sheets:
        for chart in sheet._charts:  # type: ignore[attr-defined]
            parts = [chart, *getattr(chart, "_charts", [])]
            for series in [series for part in parts for series in part.series]:
                values = getattr(series, "val", None) or getattr(series, "yVal", None)
                if values is not None and values.numRef is not None:
                    found.add(str(values.numRef.f).rpartition("!")[0].strip("'").replace("''", "'"))
    return found


def _still(sheet: Worksheet) -> None:
    """No drop-downs, no tables with buttons, no panes, no mark of values in place of formulas: paper."""
    sheet.data_validations = DataValidationList()
    marks.drop_typed_over(sheet)
    for name in list(sheet.tables):
        del sheet.tables[name]
    sheet.auto_filter.ref = None
    sheet.protection.sheet = True


def _arrange(book: Workbook, printed: list[Worksheet]) -> list[tuple[str, str]]:
    """Put the sheets in the order of a submittal; gives heading and sheet."""
    ordered = [(heading, sheet) for heading in ORDER for sheet in printed if role(sheet.title) == heading]
    others = [sheet for sheet in book.worksheets if sheet not in printed]
    book._sheets = [*(sheet for _, sheet in ordered), *others]  # type: ignore[attr-defined]
    return [(heading, sheet.title) for heading, sheet in ordered]


def _free(book: Workbook, title: str) -> str:
    while title in book.sheetnames:
        title += "_"
    return title


def _cover(sheet: Worksheet, source: Source, contents: list[tuple[str, str]]) -> None:
    page.widths(sheet, *WIDTHS)
    page.heading(
        sheet,
        "Submittal of a harmonic study",
        f"Made from a computed workbook; every value is a copy of a cell{SOLVED if source.kinds else ''}.",
    )
    row = _document(sheet, 4, source)
    page.section(sheet, row, "Outcome", COLUMNS)
    row = _line(sheet, row + 1, "In one line", source.summary, strong=True)
    if source.remarks:
        row = _line(sheet, row + 1, "Remarks", source.remarks)
    row += 2
    page.section(sheet, row, "Made from", COLUMNS)
    calculation = source.calculation
    for text, value in (
        ("Workbook", source.name),
        ("Calculated", f"{calculation.date} {calculation.time} UTC by xlcalc {calculation.version}"),
        ("Results", _proof(source)),
    ):
        row = _line(sheet, row + 1, text, value)
    row = _judged(sheet, row + 2, source) if source.judged else row + 2
    page.section(sheet, row, "Contents", COLUMNS)
    for heading in dict.fromkeys(heading for heading, _ in contents):
        row += 1
        _line(sheet, row, heading, ", ".join(title for group, title in contents if group == heading))
    row += 1
    _line(sheet, row, "Record", f"{RECORD}: what was counted, and what the digests prove")
    row += 2
    page.section(sheet, row, "Cautions", COLUMNS)
    page.notes(sheet, row + 1, CAUTIONS, COLUMNS)
    area = names.area(1, 1, row + len(CAUTIONS), COLUMNS)
    page.set_up(sheet, area=area)
    fit(sheet, area)


def _document(sheet: Worksheet, row: int, source: Source) -> int:
    """Client, project, number and who answers, blank where nobody stated it; returns the row after it."""
    page.section(sheet, row, "Document", COLUMNS)
    values = {**source.cover, "title": source.cover.get("title") or source.study}
    for name in ("client", "project", "title", "remark"):
        if name != "remark" or values.get(name):
            row = _line(sheet, row + 1, label(name), values.get(name, ""))
    for pair in (("document number", "revision"), ("date", "prepared by"), ("checked by", "approved by")):
        row += 1
        for column, name in zip((1, 3), pair, strict=True):
            page.put(sheet, row, column, label(name), style.LABEL)
            page.put_text(sheet, row, column + 1, values.get(name, ""), style.RESULT_TEXT)
        sheet.row_dimensions[row].height = SIGNATURE_HEIGHT
    return row + 2


def _judged(sheet: Worksheet, row: int, source: Source) -> int:
    """All that was judged, what has no verdict or fails first; returns the row after it."""
    page.section(sheet, row, "What was judged", COLUMNS)
    page.headings(sheet, row + 1, ("what", "reason", "case", "verdict"))
    ranked = sorted(source.judged, key=lambda item: (FAIL, NO_VERDICT, PASS).index(item.word))
    row += 1
    for item in (item for item in ranked if item.counts):
        row += 1
        texts = (item.what, item.reason, item.case, item.verdict)
        for column, text in enumerate(texts, start=1):
            page.put_text(sheet, row, column, text, style.LABEL if column == 1 else style.RESULT_TEXT)
        marks.verdict(sheet, f"D{row}")
    marks.drop_typed_over(sheet)
    without = [item for item in source.judged if not item.counts]
    if without:
        row += 1
        page.put_text(sheet, row, 1, "Not judged", style.LABEL)
        listed = "; ".join(f"{item.name}: {item.verdict or 'no data'}" for item in without)
        page.put_text(sheet, row, 2, listed, style.RESULT_TEXT)
        sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)
    return row + 2


def _proof(source: Source) -> str:
    if source.proven is None:
        return "as they stand in the workbook; not calculated again for these pages"
    if source.proven == 0:
        return "written by the calculation itself; the workbook has no formulas"
    return f"{source.proven:,} results calculated again for these pages: all agree"


def _line(sheet: Worksheet, row: int, text: str, value: str, strong: bool = False) -> int:
    page.put(sheet, row, 1, text, style.LABEL)
    for column in range(2, COLUMNS + 1):
        sheet.cell(row, column).style = style.RESULT_TEXT
    page.put_text(sheet, row, 2, value, style.STRONG if strong else style.RESULT_TEXT)
    sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=COLUMNS)
    return row


def _record(sheet: Worksheet, source: Source) -> None:
    page.widths(sheet, *WIDTHS)
    page.heading(sheet, "Record", "What the workbook held when these pages were made.")
    row = 4
    page.headings(sheet, row, ("sheet of the workbook", "inputs", "formulas", "results"))
    counts: dict[str, dict[Part, int]] = {}
    for line in (line for line in source.record.lines if line.part is not Part.REST):
        own = counts.setdefault(line.sheet or "defined names", dict.fromkeys(Part, 0))
        own[line.part] += 1
    for title, own in counts.items():
        row += 1
        page.put_text(sheet, row, 1, title, style.LABEL)
        numbers = (own[Part.INPUT] + own[Part.NAME], own[Part.FORMULA], own[Part.RESULT])
        for column, number in enumerate(numbers, start=2):
            page.put(sheet, row, column, number, style.RESULT, "#,##0")
    row += 2
    page.section(sheet, row, "Digests", COLUMNS)
    for text, digest in (
        ("Inputs, SHA-256", source.record.inputs_digest),
        ("Results, SHA-256", source.record.results_digest),
    ):
        row = _line(sheet, row + 1, text, digest)
    row += 2
    page.section(sheet, row, "What the digests prove, and what not", COLUMNS)
    page.notes(sheet, row + 1, PROVES, COLUMNS)
    row += 1 + len(PROVES)
    area = names.area(1, 1, row, COLUMNS)
    page.set_up(sheet, area=area)
    fit(sheet, area)


def _running(sheet: Worksheet, source: Source) -> None:
    """Header and footer with cautions, document number and page number, below the 255 signs of the format."""
    calculation = source.calculation
    sheet.HeaderFooter = HeaderFooter()
    made = f"xlcalc {calculation.version}, {calculation.date}"
    number = " ".join(source.cover.get(name, "") for name in ("document number", "revision")).strip()
    for item, texts in (
        (
            sheet.oddHeader,
            ("Harmonic study: submittal", page.FOOTER_CAUTION, "&A"),
        ),
        (sheet.oddFooter, (made, number.replace("&", "&&")[:60], "Page &P of &N")),
    ):
        assert item is not None
        for part, text in zip((item.left, item.center, item.right), texts, strict=True):
            if text:
                part.text, part.size, part.font = text, 7, style.FONT
