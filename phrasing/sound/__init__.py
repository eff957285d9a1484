"""From a performance to MIDI files and sound."""
