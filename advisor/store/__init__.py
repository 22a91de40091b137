"""What is kept between runs.

One SQLite file in the user's data folder, and nothing else.
"""
