"""Remedies put in place, and said in words."""
