"""What was measured.

As frozen records of numbers, strings and tuples; one file a family, no arrays.
"""
