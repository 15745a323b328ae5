"""Functions of a plant: its drives solved together, judged, and the cheapest mix that passes."""
