"""Whole schedules, sweeps and folders of workbooks: the jobs that no single cell can hold."""
