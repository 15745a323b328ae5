"""Texts: number formats, searching, taking apart."""
