"""The calculation: formulas rewritten for the engine, fed, evaluated, and what of it is certain."""
