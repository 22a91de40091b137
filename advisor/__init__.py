"""Advice: pipeline, report and command line."""
