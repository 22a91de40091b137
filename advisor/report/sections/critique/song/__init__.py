"""What was measured of the song, its elements and its master."""
