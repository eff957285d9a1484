"""Small faults put into the code on purpose, to see whether a test notices."""
