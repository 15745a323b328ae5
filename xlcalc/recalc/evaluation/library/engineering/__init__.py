"""Number bases, units, complex numbers and special functions."""
