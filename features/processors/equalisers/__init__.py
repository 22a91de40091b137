"""Equalisers and the filters they are made of."""
