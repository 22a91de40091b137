"""Kinds that change peaks and density."""
