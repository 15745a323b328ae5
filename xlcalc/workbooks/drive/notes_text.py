"""Text of the notes sheet: cautions, assumptions and handling."""

from __future__ import annotations

from typing import Final

CAUTIONS: Final = (
    "Results are estimates for a preliminary study. They do not replace measurement: verify distortion at"
    " the installed plant before anything is accepted, rejected or paid for.",
    "Only qualified persons should judge and use the results. Local codes, the contract with the utility "
    "and licensed engineering practice decide, not this workbook.",
    "Measuring and working on drives, transformers and capacitors means working near dangerous voltages "
    "and stored energy. Nothing in this workbook says that it is safe to do so.",
    "The limits are not copied from licensed texts. Where the sheet PCC names a limit as taken from "
    "a secondary source, check it against a licensed copy of the standard before relying on the "
    "verdict.",
)

ASSUMPTIONS: Final = (
    "Every drive is a diode front end of 6, 12, 18 or more pulses with AC reactance and resistance, DC "
    "choke, DC capacitor and a load of constant power (or current, or resistance), solved for its "
    "periodic steady state. The waveform is computed; no table of typical spectra is used.",
    "Percent values of source, line reactor and DC choke refer to the rated link power of the drive: 100 "
    "w L / Zb with Zb = V^2 / P. Link power is shaft rating over efficiency.",
    "Drives, supply, transformers, linear load and capacitors are solved together: each drive stands on the "
    "voltage that all of them distort. Beside it stands the quick estimate, every drive as if alone on its "
    "bus; it is usually higher, but single orders can be understated.",
    "Currents of all drives are summed with their angles (setting 'phasor'), or as magnitudes. The spread"
    " of operating points in a real plant lies between the two.",
    "Linear load shunts harmonics as 'linear load model' says. Where capacitors stand it decides how high a "
    "resonance rises, so that it is tried as given, as parallel R and L and open, and the worst counts; so "
    "does the worse of the greatest and the least short-circuit level where both are given.",
    "Cables, generators, motors and more than two transformers are for the template plant_study.",
    "What nobody stated of the supply is taken as perfect and as typical (setting 'supply'); a PASS holds "
    "for both.",
    "Resistances of supply and transformers are constant with order, which gives the sharper resonances.",
    "Limits apply to the demand current over weeks and to statistical values of measurements; the study "
    "compares one steady operating state with them. Orders run to 50.",
    "The row figures THD, 5th and True PF of the sheet Drives are those of phase a. They differ between "
    "phases only where unbalance is set; the sheet PCC always judges the worst phase.",
)

HANDLING: Final = (
    "Sand-coloured cells are inputs. Sheets other than Drives are protected without a password, so that a"
    " formula is not overwritten by accident: lift the protection whenever you want to change the layout.",
    "The sheet Drives is not protected, because a table on a protected sheet does not grow. Type or paste"
    " rows directly below the last one; delete whole table rows to shorten it. Give every drive its own "
    "tag.",
    "Where the functions are not installed, the workbook shows the numbers of the last calculation. To "
    "calculate it without a spreadsheet program: xlcalc recalc BOOK.xlsx -o RESULT.xlsx",
    "Colours: red is beyond a limit or missing, amber has less than a tenth of the limit left, violet has"
    " no result.",
    "The whole schedule and site can be used by your own formulas: site, study_settings and the table "
    "Drives are the arguments of the HD_ functions listed on the sheet Function reference.",
    "A drive without a repeating current shows #NUM!, and so does everything at the PCC: a load of constant "
    "power behind a choke and a small DC capacitor can oscillate. Check its data, the DC capacitance and the "
    "kind of load. xlcalc recalc --reasons writes the reason of every error into a sheet of the workbook.",
    "Array results stand on the sheet Arrays; it holds up to 500 rows of drives.",
)

DRIVE_STUDY: Final = {"Cautions": CAUTIONS, "Assumptions of the model": ASSUMPTIONS, "Handling": HANDLING}
