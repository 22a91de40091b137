"""One song among others: statistics for few songs, and how songs differ."""
