"""From what a teacher asks for to what is played and printed."""
