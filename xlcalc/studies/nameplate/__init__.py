"""Plants whose drives are known by their nameplates only: what is open, and what it moves."""
