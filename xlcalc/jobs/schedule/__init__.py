"""A schedule of drives, solved at its site and tabulated."""
