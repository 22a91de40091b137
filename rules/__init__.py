"""The rule base.

One documented module per rule, discovered by its place in the tree.
"""
