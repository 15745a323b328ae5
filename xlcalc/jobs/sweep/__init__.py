"""Schedules solved for many combinations of uncertain inputs."""
