"""Inputs that nobody meant, and what must hold whatever they are: see ``__main__``."""
