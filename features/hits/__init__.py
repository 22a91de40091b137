"""Drum hits and other attacks, kicks, pumping, and the low end around them."""
