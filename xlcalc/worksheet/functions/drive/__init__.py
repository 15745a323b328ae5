"""Functions of one drive: its current, and the relations of textbooks."""
