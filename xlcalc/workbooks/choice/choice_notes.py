"""What the notes sheet of the template of a choice says."""

from __future__ import annotations

from typing import Final

from xlcalc.workbooks.drive.notes_text import CAUTIONS

ASSUMPTIONS: Final = (
    "Every option of every drive is solved in every case; the currents add up as phasors by order. An"
    " integer programme (HiGHS) finds the mix of least cost. The mix is then studied again from the "
    "start, coupled: drives, filters, banks and network in one state. Where that finds more, the "
    "search is repeated with the correction.",
    "The proof gap is that of the search. It does not cover mixes that the coupled study alone lets pass.",
    "A passive filter ahead of a drive is solved as a circuit together with the bridge. An active "
    "front end and an active filter are residual spectra with the basis that is stated; currents of "
    "unknown angle add in magnitude.",
    "A bank is solved in the network. It is refused where its rms voltage, peak voltage, current or "
    "kvar exceeds the stated standard for capacitors in any case. It stays in service in cases that "
    "take the capacitors of the network out.",
    "All units of a row of the schedule get the same front end. Losses count over the stated years "
    "and hours, load losses with the square of the load.",
    "Generator cases: with the utility out of service the largest generator is the supply, and limits"
    " are judged at the PCCs that it still feeds.",
)

HANDLING: Final = (
    "Sand-coloured cells are inputs: Study, Network, Drives, Options, Terms. Titles and headings of "
    "the tables must stay; blank rows are passed over. Insert whole rows inside a table for more.",
    "Options: a price is a + b kW^c, or blank with points in the table Prices. Names are free; pins "
    "and places refer to them. A front end named only in the schedule counts through a pin with: as "
    "scheduled.",
    "An error names cell, row and table. xlcalc recalc --reasons writes the reason of every error "
    "into a sheet.",
    "xlcalc recalc choice_study.xlsx computes this workbook. xlcalc choose choice_study.xlsx -o "
    "OUT.xlsx reads the same sheets and writes the whole answer: verdicts case by case, cost against "
    "TDD, the next best mixes, what the money buys.",
)

CHOICE_STUDY: Final = {
    "Cautions": CAUTIONS,
    "Assumptions of the model": ASSUMPTIONS,
    "Handling": HANDLING,
}
