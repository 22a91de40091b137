"""The stems of a song.

Reading a folder of them, fitting them to the mix, and summing them again with remedies in place.
"""
