"""Circuits handed to the compiled kernels, and their integrals taken back."""
