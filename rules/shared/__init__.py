"""What several rules share.

Words, ranges of levels, readings of tone.
"""
