"""Score time: notes, bars, keys, chords, instruments and the words for them."""
