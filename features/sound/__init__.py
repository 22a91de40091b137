"""Sound itself: opening files, blocks, bands, the shared spectrogram and the K filter."""
