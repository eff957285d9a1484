"""The desk: a melody on a page in the browser, changed by hand and heard at once."""
