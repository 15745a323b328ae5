"""Editing a finished workbook by its parts: what is not touched stays as it is."""
