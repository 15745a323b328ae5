"""What drives stand on, read from files, and the drives solved on it."""
