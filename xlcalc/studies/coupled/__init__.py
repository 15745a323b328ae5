"""Drives and network as one state: the engine and the network iterated until both agree."""
