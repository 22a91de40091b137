"""Measure: pure functions and meters over sound, and the records they fill."""
