"""Sheets that several templates have in common."""
