"""What several rules share: words, ranges of levels, readings of tone."""
