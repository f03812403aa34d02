"""Lets `python -m cuedeck` do what the `cuedeck` command does."""

from cuedeck.cli.main import main

if __name__ == "__main__":
    raise SystemExit(main())
