"""`python -m advisor` does what `mixproof` does."""

from advisor.cli.main import run

if __name__ == "__main__":
    run()
