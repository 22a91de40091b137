"""Kinds that move a level, and the one that moves nothing."""
