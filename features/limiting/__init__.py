"""The limiter outlook: how loud a mix can go, and what stops it."""
