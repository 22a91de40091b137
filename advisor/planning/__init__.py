"""Trials of remedies, and the plan made of them."""
