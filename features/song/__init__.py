"""The song as a whole.

Its sections, and its headline readings.
"""
