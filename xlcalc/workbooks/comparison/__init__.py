"""The template front_end_comparison: one drive, several front ends."""
