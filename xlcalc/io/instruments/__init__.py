"""Readers of what instruments write."""
