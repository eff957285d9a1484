"""MusicXML scores."""
