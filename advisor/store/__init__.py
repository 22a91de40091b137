"""What is kept between runs: one SQLite file in the user's data folder, and nothing else."""
