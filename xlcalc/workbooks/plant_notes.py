"""What the notes sheet of the plant template says."""

from __future__ import annotations

from typing import Final

from xlcalc.workbooks.notes_text import CAUTIONS

ASSUMPTIONS: Final = (
    "Every drive is a diode front end solved for its periodic steady state; no table of typical spectra"
    " is used. Coupled: drives and network are iterated to one consistent state, so that the bus "
    "voltage which the drives distort acts back on them. Quick estimate: every drive as if alone on its"
    " bus, then all added up; it is usually, not always, on the safe side.",
    "The network is a nodal matrix for orders 1 to 50, solved in positive and negative sequence; the "
    "phase shift of every transformer follows from its vector group, so that six-pulse groups behind "
    "delta and star windings cancel as they do in a plant.",
    "The model of static load decides the result next to a resonance. Parallel R and L (the default) "
    "damp most, series R and L hardly damp, none is open for harmonics: try them where a resonance is "
    "close to an order.",
    "Motors are their locked-rotor impedance for harmonics, generators their subtransient reactance. "
    "Alone, the largest generator holds its terminal voltage.",
    "Resistances are constant with order unless the setting 'resistance exponent' says otherwise: 0.5 "
    "is full skin effect. Constant resistance gives the sharper resonances.",
    "Isc is that of the supply alone, without motors and generators of the plant. The demand current is"
    " that of the table of buses, otherwise the fundamental current of the case, which overstates TDD "
    "of a plant that runs at part load.",
    "Cases hold one steady operating state each. Limits apply to statistical values of measurements and"
    " to the demand current over weeks. Limits at buses that are no PCC are a yardstick only.",
    "Permitted load of transformers is that of dry types by IEEE C57.110 with the stated eddy loss; 10 "
    "% stands in for a blank one (common practice, no source). For liquid-filled types use "
    "HD_TRANSFORMER_LOAD_LIQUID.",
    "Zero-sequence orders of an unbalanced or distorted supply are counted in bus voltages, not in "
    "drive currents.",
)

HANDLING: Final = (
    "Sand-coloured cells are inputs. Fill in Study, Network, Drives, Cases in this order. Sheets other "
    "than Network and Drives are protected without a password, so that a formula is not lost by a slip.",
    "Network holds one table below the other; titles and headings must stay. Blank rows are passed "
    "over. For more elements insert whole rows inside a table. Cases and Equipment show the first rows "
    "of each table: 12 buses, 8 transformers, 6 capacitors and 3 generators.",
    "Out of service takes names of elements and buses with semicolons between them; a bus takes along "
    "what stands on it. 'Generators: alone' leaves the plant without the utility: take out of service "
    "what the generator does not feed, and the transformer to the utility.",
    "An error in Network names column, row and table; rows are those of the sheet. xlcalc recalc "
    "--reasons writes the reason of every error into a sheet of the workbook.",
    "PCC, Drives, Impedance and Equipment show the case that is chosen on the sheet PCC. The table Drives "
    "shows results of up to 500 rows; 'off' marks a drive on a bus that is out of service.",
    "Colours: red is beyond a limit or missing, amber has less than a tenth of the limit left, violet "
    "has no result. 'Converged? no' means that drives and network found no common state: then the "
    "coupled column has no result.",
    "Without a spreadsheet program: xlcalc recalc plant_study.xlsx computes every value. In one, the "
    "functions need their host: xlcalc host install excel, or libreoffice.",
    "The whole plant can be used by your own formulas: network, the table Drives and the ranges of the "
    "sheet Case settings are the arguments of the functions HD_PLANT_... on the sheet Function "
    "reference.",
)

PLANT_STUDY: Final = {
    "Cautions": CAUTIONS,
    "Assumptions of the model": ASSUMPTIONS,
    "Handling": HANDLING,
}
