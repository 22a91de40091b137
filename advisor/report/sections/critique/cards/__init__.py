"""The findings, their trials, and what was not found."""
