"""What drives ask of their DC link and of the devices ahead of it."""
