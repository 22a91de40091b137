"""Advice: the pipeline from a bounce to a critique, its report, and the command line."""
