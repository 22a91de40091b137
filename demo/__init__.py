"""The demo song.

Synthesised here note by note, mixed badly, mixed better, and set beside six invented records.
"""
