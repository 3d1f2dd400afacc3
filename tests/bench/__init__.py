"""Measurements: ratios within one run, printed, never asserted."""
