"""What a producer gets from a mix, in numbers.

And how much of a fault a reading is evidence for.
"""
