"""Physics of diode front ends: one periodic-steady-state engine for any number of bridges."""
