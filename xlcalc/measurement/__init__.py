"""Recordings of voltages and currents, reduced as IEC 61000-4-7 and IEC 61000-4-30 say, and judged."""
