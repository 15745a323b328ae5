"""Harmonic studies of AC drives: worksheet functions, workbook templates, headless recalculation."""

__version__ = "0.1.0"
