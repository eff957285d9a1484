"""A melody and its marks as MusicXML."""
