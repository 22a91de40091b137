"""Kinds that change the channels against each other."""
