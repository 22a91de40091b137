"""Rules of the delivery stage."""
