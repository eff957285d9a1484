"""The stand that a page has at its head: what plays, loops and slows down."""

from __future__ import annotations

from phrasing.page.scripts import static
from phrasing.page.template import filled


def stand(
    *,
    buttons: str = "",
    bars: str = "",
    first_bar: str = "",
    waiting: str = "",
    undo: str = "",
    lever: str = "",
    about_link: str = "",
) -> str:
    """The stand as HTML, of pieces that are HTML themselves.

    ``buttons``: one for each version; ``bars``: options to loop from and to; ``first_bar`` and
    ``waiting``: what is said before anything plays; ``undo``: a button beside the others,
    ``lever``: what stands under them. ``about_link``: a sentence under the link to the page as
    it is set, which is not shown without one.

    >>> 'id="undo"' in stand(undo='<button id="undo">Take back</button>')
    True
    """
    blanks = {
        "buttons": buttons,
        "bars": bars,
        "first_bar": first_bar,
        "waiting": waiting,
        "undo": undo,
        "lever": lever,
        "link_hidden": "" if about_link else " hidden",
        "about_link": f'<p class="caution">{about_link}</p>' if about_link else "",
    }
    return filled(static("stand.html"), blanks)
