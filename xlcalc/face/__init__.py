"""Harmonic studies from Python: what `import xlcalc` offers by name."""
