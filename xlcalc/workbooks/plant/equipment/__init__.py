"""Sheets of what harmonics do to the equipment of a plant, and of the data that they need."""
