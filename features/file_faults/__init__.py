"""Faults of the file itself.

Clipping, clicks, hum, noise, cut ends.
"""
