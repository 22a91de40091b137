"""Drum hits and other attacks, kicks, and pumping.

The low end around them is here too.
"""
