"""The reports as typed values.

Every text, the JSON and its schema derive from them.
"""
