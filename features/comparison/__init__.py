"""One song among others.

Statistics for few songs, and how songs differ.
"""
