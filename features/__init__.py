"""Measure: pure functions and meters over sound.

The records they fill are here too.
"""
