"""The template plant_study: a network of buses in several cases."""
