"""A rhythm section that plays along: chord symbols become bass, drums and chords."""

from phrasing.backing.band import PLAYERS, Backing, accompany
from phrasing.backing.form import Form, Span, form_of

__all__ = ["PLAYERS", "Backing", "Form", "Span", "accompany", "form_of"]
