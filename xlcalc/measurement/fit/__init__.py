"""Inputs of a supply and a drive from recordings of voltage and current: least squares with the engine."""
