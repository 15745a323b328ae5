"""A formula as it is written: its tree, its pattern, and what its references stand for."""
