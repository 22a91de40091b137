"""Remedy kinds, one in each module.

What is known of a kind stands there and nowhere else.
"""
