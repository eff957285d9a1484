"""Engraving, and the sheet to print."""
