"""What can be bought: what it costs, and what current it draws."""
