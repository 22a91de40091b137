"""Advice: from a bounce to a critique, its report.

The pipeline and the command line are here.
"""
