"""Drawings of plants and pictures of results."""
