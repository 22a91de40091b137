"""Kinds that move a level, and one that moves nothing."""
