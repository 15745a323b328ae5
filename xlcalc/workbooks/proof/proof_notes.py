"""What the notes of the field proof say."""

from __future__ import annotations

from typing import Final

from xlcalc.workbooks.drive.notes_text import CAUTIONS

ASSUMPTIONS: Final = (
    "Currents are harmonic subgroups of IEC 61000-4-7, aggregated over 3 s and 10 minutes as IEC 61000-4-30 "
    "says. Intervals with a dip, swell or interruption are flagged and blank here.",
    "IEEE 519 asks for three statistics: 99 % of the 3 s values of each day within twice the limit, 99 % of "
    "the 10-minute values of a week within 1.5 times, 95 % of them within the limit itself (editions 2014 "
    "and 2022). A blank counts as missing: PASS and FAIL stand only where they would whatever it is.",
    "28800 values of 3 s a day do not fit a sheet: the command xlcalc measure reduces them to one line a day "
    "and phase, on the sheet Proof.",
    "The prediction is that of a study at the measured load. Its band adds, as roots of squares, what the "
    "uncertainty of each input does: short-circuit level 20 %, transformer impedance 10 %, reactors and "
    "chokes 10 %, DC capacitance 20 %, and a typical distortion of the supply where the study gives none.",
    "A measured order lies outside where it leaves the band by more than the accuracy of an instrument of "
    "class I (IEC 61000-4-7, from memory).",
)
HANDLING: Final = (
    "To fill the workbook: xlcalc measure RECORD --demand-amps A --isc-il R --kv KV --study STUDY.xlsx "
    "-o PROOF.xlsx. Values may also be typed or pasted into the sand-coloured cells.",
    "The charts follow the rows that the workbook was made with.",
    "Colours only repeat what words and numbers say: PASS, FAIL, NO VERDICT.",
)
TEXTS: Final = {"Cautions": CAUTIONS, "How the figures are made": ASSUMPTIONS, "Handling": HANDLING}
