"""Distributions, samples and regression, with numpy and scipy underneath."""
