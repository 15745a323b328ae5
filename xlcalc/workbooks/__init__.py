"""Workbook templates, built from code."""
