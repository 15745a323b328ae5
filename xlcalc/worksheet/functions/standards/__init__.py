"""Limits of standards and verdicts by them."""
