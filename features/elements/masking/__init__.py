"""How audible elements are, and who masks them."""
