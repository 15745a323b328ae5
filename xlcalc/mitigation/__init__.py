"""Choosing the mitigation: the mix of front ends and remedies of least cost that meets the limits."""
