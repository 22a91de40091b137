"""Rules about peaks, level changes and compression."""
