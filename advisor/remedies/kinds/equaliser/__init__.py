"""Kinds that change the spectrum."""
