"""What was measured of the song, elements and master."""
