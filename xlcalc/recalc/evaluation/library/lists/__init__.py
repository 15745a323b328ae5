"""Look-ups, criteria, sorting and shapes of lists."""
