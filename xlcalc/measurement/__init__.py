"""Recordings of voltages and currents, reduced by IEC 61000-4-7 and IEC 61000-4-30, and judged."""
