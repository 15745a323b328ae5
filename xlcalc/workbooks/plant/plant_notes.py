"""Text of the notes sheet of the plant template."""

from __future__ import annotations

from typing import Final

from xlcalc.workbooks.drive.notes_text import CAUTIONS

ASSUMPTIONS: Final = (
    "Every drive is a diode front end solved for its periodic steady state; no table of typical spectra"
    " is used. Coupled: drives and network are iterated to one consistent state, so that the bus "
    "voltage which the drives distort acts back on them. Quick estimate: every drive as if alone on its"
    " bus, then all added up; it is usually higher; single orders can be understated.",
    "The network is a nodal matrix for orders 1 to 50, solved in positive and negative sequence; the "
    "phase shift of every transformer follows from its vector group, so that six-pulse groups behind "
    "delta and star windings cancel as they do in a plant.",
    "The model of static load decides the result next to a resonance. Parallel R and L (the default) "
    "damp most, series R and L hardly damp, none is open for harmonics: try them where a resonance is "
    "close to an order.",
    "Motors are their locked-rotor impedance for harmonics, generators their subtransient reactance. "
    "Alone, the largest generator holds its terminal voltage.",
    "Resistances are constant with order unless the setting 'resistance exponent' on the sheet Study says "
    "otherwise: R grows with the order to this power, 0.5 is full skin effect, 1 a constant X/R. It holds "
    "for the supply, transformers, cables and machines, not for reactors of filters. Constant resistance "
    "gives the sharper resonances.",
    "A three-winding transformer is the star of its three short-circuit impedances, each between two "
    "windings with the third open. Two six-pulse groups on its secondaries are a 12-pulse arrangement.",
    "Polygon, zigzag and extended-delta windings shift by any angle: of a transformer on the sheet Network, "
    "of a drive's own in its column. Autotransformers isolate nothing; ahead of several bridges the blocking "
    "of their zero sequence is taken as perfect, and without it there is no result.",
    "An active front end draws its residual spectrum at its load, from the stated source, and is open to the "
    "harmonics of others; the capacitors of its LCL filter are there in standby too. Orders around its "
    "switching frequency lie above 50 and are not judged. Inverters on one DC bus are the load of their "
    "front end.",
    "Isc is that of the supply alone, without motors and generators of the plant. The demand current is"
    " that of the table of buses, otherwise the fundamental current of the case, which overstates TDD "
    "of a plant that runs at part load.",
    "Cases hold one steady operating state each. Limits apply to statistical values of measurements and"
    " to the demand current over weeks. Limits at buses that are no PCC are a yardstick only.",
    "Permitted load of transformers is that of IEEE C57.110 with the stated eddy loss; 10 % stands in for a "
    "blank one (common practice, no source). Types, losses, ratings, load profile and prices stand on the "
    "sheet Equipment data; what is not stated there is not judged.",
    "Zero-sequence orders of a distorted supply are counted in the voltages of the buses that they reach: "
    "lines and transformers with two led-out star points (YNyn) let them pass, other windings block them. "
    "They are not in drive currents.",
    "Ratings that only a slip of the unit explains are refused with their cell: more current than one "
    "element carries, more kVA than the supply gives at a fault, high voltage on small elements (bounds are "
    "common practice, no source). 1000000 MVA stands for an ideal supply.",
)

HANDLING: Final = (
    "Sand-coloured cells are inputs. Fill in Study, Network, Drives, Cases, Equipment data in this order. "
    "Sheets other than Network and Drives are protected without a password, so that a formula is not lost "
    "by a slip.",
    "Network holds one table below the other; titles and headings must stay. Blank rows are passed "
    "over. There is room for 60 buses, 40 transformers, 40 cables, 24 capacitors, 60 loads, 8 generators, 24 "
    "active front ends and 60 inverters; most of it is folded away, so that it is not printed. Unfold with + "
    "at the left or by Unhide; on protected sheets select the rows above and below and unhide them, or "
    "unprotect first (no password). A "
    "line below a table tells where elements lie in folded rows.",
    "Out of service takes names of elements and buses with semicolons between them; a bus takes along "
    "what stands on it. 'Generators: alone' leaves the plant without the utility: take out of service "
    "what the generator does not feed, and the transformer to the utility.",
    "An error in Network names column, cell, row and table, as the sheet shows them. xlcalc recalc "
    "--reasons writes the reason of every error into a sheet of the workbook.",
    "PCC, Drives, Impedance, Transformers and Equipment show the case that is chosen on the sheet PCC. The "
    "table Drives shows results of up to 500 rows; 'off' marks a drive on a bus that is out of service.",
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
