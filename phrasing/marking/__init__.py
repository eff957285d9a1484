"""From a melody to its marks: what a schooled player would do with each note, and why."""
