"""Compressors, limiters, saturation, and bands that move with level."""
