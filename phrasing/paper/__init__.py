"""Marks on paper: MusicXML, engraving, the PDF."""
