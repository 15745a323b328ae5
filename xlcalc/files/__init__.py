"""Files of users: read within bounds, written only where that destroys nothing."""
