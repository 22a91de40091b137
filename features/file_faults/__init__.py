"""Faults of the file itself: clipping, clicks, hum, noise, cut ends."""
