"""How loud elements stand, and which few faders explain it."""
