"""What can be made of a melody, each with its few choices and the command that makes it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from phrasing.errors import PhrasingError
from phrasing.score.instruments import INSTRUMENTS
from phrasing.score.pitches import name_of
from phrasing.score.transposing import BY_SEMITONES


@dataclass(frozen=True)
class Answer:
    """One answer to a choice: its ``key``, its ``words``, and the ``options`` it stands for."""

    key: str
    words: str
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Choice:
    """A question with one answer, the first unless another is chosen; or with several, all of
    them unless some are left out (``each``): then something is made for each of them.
    ``needs_chords``: it is no question where the melody has no chord symbols."""

    key: str
    words: str
    answers: tuple[Answer, ...]
    each: bool = False
    needs_chords: bool = False


@dataclass(frozen=True)
class Thing:
    """Something to make: ``place`` is its file or folder beside the melody, in which ``{stem}``
    is the melody's name and ``{each}`` the answer that it is made for; ``needs_chords`` as for
    a choice."""

    key: str
    words: str
    about: str
    place: str
    command: tuple[str, ...]
    choices: tuple[Choice, ...] = ()
    needs_chords: bool = False


def _one(key: str, words: str, option: str, answers: Mapping[str, str]) -> Choice:
    """A choice whose answers are values of an option; an empty value leaves the option out."""
    return Choice(
        key,
        words,
        tuple(
            Answer(value or "usual", said, (option, value) if value else ())
            for value, said in answers.items()
        ),
    )


def _switch(
    key: str, words: str, option: str, no: str, yes: str, *, needs_chords: bool = False
) -> Choice:
    answers = (Answer("no", no), Answer("yes", yes, (option,)))
    return Choice(key, words, answers, needs_chords=needs_chords)


WITH_BAND = _switch(
    "band", "With", "--backing", "the melody alone", "a band", needs_chords=True
)


def _percents(*shares: int) -> Mapping[str, str]:
    """Shares of the tempo, as the command line and as a page has them."""
    return {f"{share}%": f"{share} % of the tempo" for share in shares}


PAPER = _one("paper", "Paper", "--paper", {"a4": "A4", "letter": "US letter"})
FORMAT = _one("format", "Sound", "--format", {"wav": "WAV", "mp3": "MP3", "flac": "FLAC"})
KEY = _one(
    "key",
    "Key",
    "--transpose",
    {"": "as it is"} | {key: f"concert {key}" for key in map(name_of, BY_SEMITONES)},
)
INSTRUMENT = _one(
    "instrument",
    "For",
    "--instrument",
    {"": "who plays it here"} | {each.key: each.name for each in INSTRUMENTS},
)
PARTS = Choice(
    "parts",
    "For",
    (
        Answer("c", "C", ("--instrument", "part-in-c")),
        Answer("b-flat", "B♭", ("--instrument", "part-in-b-flat")),
        Answer("e-flat", "E♭", ("--instrument", "part-in-e-flat")),
        Answer("bass-clef", "bass clef", ("--instrument", "part-in-bass-clef")),
    ),
    each=True,
)
BAND = Choice(
    "band",
    "Players",
    (
        Answer("piano", "bass, drums and piano"),
        Answer("guitar", "bass, drums and guitar", ("--comping", "guitar")),
        Answer("two", "bass and drums", ("--mute", "chords")),
        Answer("bass", "bass alone", ("--mute", "chords", "--mute", "drums")),
    ),
)
THINGS = (
    Thing(
        "shape",
        "MIDI, sound, sheet and page",
        "Everything in one folder: both versions as MIDI and sound, MusicXML with the marks, "
        "the sheet, the page, the table.",
        "{stem} made",
        ("shape",),
        (FORMAT, WITH_BAND),
    ),
    Thing(
        "page",
        "A page to listen on",
        "One file to send to students.",
        "{stem} page.html",
        ("page",),
        (
            _switch(
                "readings", "Versions", "--readings", "plain and shaped", "second readings, too"
            ),
            _switch("straight", "Even eighths", "--straight", "no", "as one more version"),
        ),
    ),
    Thing(
        "sheet",
        "The sheet",
        "A PDF with the marks.",
        "{stem} sheet.pdf",
        ("sheet",),
        (
            INSTRUMENT,
            KEY,
            PAPER,
            _switch("reasons", "Reasons", "--reasons", "not printed", "numbered, behind it"),
        ),
    ),
    Thing(
        "exercise",
        "An exercise",
        "The plain notes to mark, the answer behind.",
        "{stem} exercise.pdf",
        ("sheet", "--layout", "exercise"),
        (PAPER,),
    ),
    Thing(
        "parts",
        "Parts for the class",
        "A sheet for each group of instruments.",
        "{stem} in {each}.pdf",
        ("sheet",),
        (PARTS, KEY, PAPER),
    ),
    Thing(
        "backing",
        "A backing",
        "A band to play over, from the chord symbols.",
        "{stem} backing",
        ("backing",),
        (
            _one(
                "choruses",
                "Choruses",
                "--choruses",
                {"2": "2", "1": "1", "3": "3", "4": "4", "6": "6"},
            ),
            BAND,
            _one(
                "intro",
                "Before it",
                "--intro",
                {
                    "": "a count-in",
                    "four": "four bars in the key",
                    "last-four": "its last four bars",
                },
            ),
            _one(
                "with-melody",
                "Melody",
                "--with-melody",
                {"": "yours to play", "shaped": "played, shaped", "plain": "played, plain"},
            ),
            FORMAT,
        ),
        needs_chords=True,
    ),
    Thing(
        "practice",
        "Practice files",
        "Phrases, tempos, call and response, with a page to play them.",
        "{stem} practice",
        ("practice",),
        (
            _one(
                "from",
                "From",
                "--from",
                {f"{n}%": f"{n} % of the tempo" for n in (60, 50, 70, 80)},
            ),
            _one("to", "To", "--to", {f"{n}%": f"{n} %" for n in (100, 110, 120, 90)}),
            _one("keys", "Keys", "--keys", {"": "as it is", "all": "all twelve"}),
        ),
    ),
)
"""Everything, in the order of the page."""


def thing_named(key: Any) -> Thing:
    """The thing of this key; raises ``PhrasingError`` where there is none.

    >>> thing_named("sheet").command
    ('sheet',)
    """
    for thing in THINGS:
        if thing.key == key:
            return thing
    raise PhrasingError("The desk cannot make that; the page is out of date.")


def told_things(has_chords: bool) -> list[dict[str, Any]]:
    """Everything as a page is told of it, and what a melody without chord symbols ``lacks``.

    >>> [thing["key"] for thing in told_things(has_chords=False) if thing["lacks"]]
    ['backing']
    """
    told = []
    for thing in THINGS:
        asked = tuple(c for c in thing.choices if has_chords or not c.needs_chords)
        lacks = "" if has_chords or not thing.needs_chords else LACKS_CHORDS
        told.append(asdict(replace(thing, choices=asked)) | {"lacks": lacks})
    return told


def told_of_a_chart() -> dict[str, Any]:
    """The one thing that is made of chord symbols alone.

    >>> told_of_a_chart()["key"]
    'backing'
    """
    thing = thing_named("backing")
    asked = tuple(choice for choice in thing.choices if choice.key != "with-melody")
    return asdict(replace(thing, choices=asked)) | {"lacks": ""}


LACKS_CHORDS = "This melody has no chord symbols to play from."


def jobs(thing: Thing, chosen: Any, stem: str) -> list[tuple[str, list[str]]]:
    """Where each file or folder goes, and the words of its command.

    ``chosen``: the key of an answer by choice, or a list of keys where each is made; what is
    not chosen is as proposed. Raises ``PhrasingError`` for what is no answer.

    >>> jobs(thing_named("sheet"), {"paper": "letter"}, "tune")
    [('tune sheet.pdf', ['sheet', '--paper', 'letter'])]
    """
    wishes = chosen if isinstance(chosen, dict) else {}
    options: list[str] = []
    made = [Answer("", "")]
    for choice in thing.choices:
        answers = list(_answers(choice, wishes.get(choice.key)))
        if choice.each:
            made = answers
        else:
            options += answers[0].options
    return [
        (
            thing.place.format(stem=stem, each=each.words),
            [*thing.command, *each.options, *options],
        )
        for each in made
    ]


def _answers(choice: Choice, wish: Any) -> Iterator[Answer]:
    if wish is None:
        yield from choice.answers if choice.each else choice.answers[:1]
        return
    keys: Sequence[Any] = wish if choice.each and isinstance(wish, list) else [wish]
    found = [answer for answer in choice.answers if answer.key in keys]
    if not found or len(found) != len(keys):
        raise PhrasingError(f"{choice.words}: choose from what there is, one at least.")
    yield from found
