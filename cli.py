"""Runs the command line from a checkout: ``python cli.py demo``."""

from phrasing.app.commands import main

if __name__ == "__main__":
    main()
