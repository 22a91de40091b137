"""Sound itself: opening files, blocks, and bands.

The shared spectrogram and the K filter.
"""
