"""Runs the command line: ``python -m phrasing``."""

from phrasing.app.commands import main

main()
