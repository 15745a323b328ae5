"""Compiled kernels of the periodic-steady-state engine: numbers and arrays in, numbers and arrays out."""
