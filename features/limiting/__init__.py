"""The limiter outlook.

How loud a mix can go, and what stops it.
"""
