"""What of each element is audible in the mix, and who masks it."""
