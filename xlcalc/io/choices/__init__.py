"""What can be bought, and the terms of a choice, from files."""
