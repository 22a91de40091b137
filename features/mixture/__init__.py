"""How stems sum to a mix.

Gains, offsets, and what is left over.
"""
