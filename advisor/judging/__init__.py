"""Judging what was measured: rules, cards, their history, the verdict."""
