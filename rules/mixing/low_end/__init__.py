"""Rules about kick, bass and what lies below them."""
