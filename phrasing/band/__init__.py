"""A rhythm section that plays along: chord symbols become bass, drums and chords."""
