"""The rule base: one documented module per rule, discovered by its place in the tree."""
