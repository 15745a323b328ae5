"""Ordinary worksheet functions of our own, where the engine lacks one or answers differently."""
