"""The command line: what may be asked, what is called, what is written and what is said."""
