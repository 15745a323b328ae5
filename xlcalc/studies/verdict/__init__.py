"""The verdict at a PCC: its states, its demand current, and what a reader has to know beside it."""
