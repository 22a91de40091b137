"""Two bounces of one song, aligned and at matched loudness."""
