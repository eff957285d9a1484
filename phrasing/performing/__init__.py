"""From a melody with its marks to what is played."""
