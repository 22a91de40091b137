"""Two bounces of one song side by side, aligned and at matched loudness."""
