"""From a formula as the file writes it to one that the engine evaluates with certainty."""
