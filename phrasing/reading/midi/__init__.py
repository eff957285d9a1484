"""MIDI files, from a notation program or played."""
