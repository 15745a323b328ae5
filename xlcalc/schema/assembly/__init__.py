"""Checked values of fields assembled into drives, plants, options and terms."""
