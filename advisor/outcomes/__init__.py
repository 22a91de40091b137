"""Outcomes: what a producer gets from a mix.

Judged from its sound without any rule, and what a move changes of it.
"""
