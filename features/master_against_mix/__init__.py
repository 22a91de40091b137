"""A master against its mix.

Equaliser, moving gain, tone, and damage.
"""
