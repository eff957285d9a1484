"""Runs the command line: ``python -m phrasing``."""

from phrasing.commands import main

main()
