"""What the sheets of all templates are made of."""
