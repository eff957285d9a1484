"""The instruments: what is written, what sounds, how far they reach, how they are named.

One row of ``INSTRUMENTS`` holds all there is to know of one. Transpositions and written ranges
of winds and strings are from public orchestration tables (from memory, and checked against
music21 in the tests), those of vibraphone, guitar and piano common practice; General MIDI
programs (counted from 1, as the standard does) from General MIDI System Level 1, which has no
flugelhorn, cornet or euphonium: their nearest neighbours sound; standard sound names from
MusicXML 4.0.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Literal

from phrasing.errors import PhrasingError
from phrasing.score.doubts import Answer, Doubt

Family = Literal["woodwind", "brass", "voice", "strings", "percussion", "keyboard", "part"]
BREATHING: tuple[Family, ...] = ("woodwind", "brass", "voice", "part")
NO_LIMIT = (0, 127)
"""The range of a part that nobody in particular plays."""


@dataclass(frozen=True)
class Instrument:
    """One instrument.

    ``program``: General MIDI program from 1. ``low``/``high``: sounding MIDI numbers.
    ``transposition``: semitones from written to sounding pitch (-2 for a B♭ trumpet).
    ``clef`` is its usual one: "G2" treble, "F4" bass, "C3" alto, empty where it goes by the
    notes. ``spellings``: what people type and print for it besides its key and name, with
    spaces between words and no dots. ``sounds``: how its standard sound names begin (MusicXML
    4.0), none where it has none of its own. ``remark``: what a player adds to its range.
    """

    key: str
    name: str
    family: Family
    program: int
    low: int
    high: int
    transposition: int = 0
    clef: str = "G2"
    spellings: tuple[str, ...] = ()
    sounds: tuple[str, ...] = ()
    remark: str = ""

    @property
    def wind(self) -> bool:
        """Whether it breathes."""
        return self.family in BREATHING

    @property
    def is_named(self) -> bool:
        """Whether it is an instrument, not just a part that anyone may play."""
        return self.family != "part"

    @property
    def fifths(self) -> int:
        """How many sharps more (flats fewer) its key signature has than the sounding one."""
        return (-self.transposition * 7 + 5) % 12 - 5

    @property
    def octaves(self) -> int:
        """Whole octaves from written to sounding pitch, beyond the interval: -1 or 0."""
        return -(-self.transposition // 12)

    @property
    def semitones(self) -> int:
        """The interval from written to sounding pitch without whole octaves: -11 to 0."""
        return self.transposition - 12 * self.octaves

    @property
    def steps(self) -> int:
        """The same interval in diatonic steps: -1 for a second down, -5 for a sixth."""
        return -((-self.semitones * 7 + 6) // 12)


HIGH_F_SHARP = "A saxophone with a high F♯ key reaches a semitone higher."

INSTRUMENTS: tuple[Instrument, ...] = (
    Instrument(
        "soprano-sax", "Soprano saxophone in B♭", "woodwind", 65, 56, 87, -2,
        spellings=("soprano", "s sax", "s sx", "sop sax", "sop sx", "ss", "sopransaxophon"),
        sounds=("wind.reed.saxophone.soprano",), remark=HIGH_F_SHARP,
    ),
    Instrument(
        "alto-sax", "Alto saxophone in E♭", "woodwind", 66, 49, 80, -9,
        spellings=("alto", "a sax", "a sx", "asx", "alt sax", "alto sx", "as", "altsaxophon"),
        sounds=("wind.reed.saxophone.alto",), remark=HIGH_F_SHARP,
    ),
    Instrument(
        "tenor-sax", "Tenor saxophone in B♭", "woodwind", 67, 44, 75, -14,
        spellings=(
            "tenor", "sax", "t sax", "t sx", "tsx", "ten sax", "tenor sx", "ts",
            "tenorsaxophon", "saxofon", "saxophon",
        ),
        sounds=("wind.reed.saxophone.tenor",), remark=HIGH_F_SHARP,
    ),
    Instrument(
        "baritone-sax", "Baritone saxophone in E♭", "woodwind", 68, 36, 68, -21,
        spellings=(
            "baritone", "bari", "bari sax", "bari sx", "b sax", "b sx", "bsx", "bar sax",
            "bar sx", "bs", "bary sax", "baritonsaxophon",
        ),
        sounds=("wind.reed.saxophone.baritone",), remark=HIGH_F_SHARP,
    ),
    Instrument(
        "trumpet", "Trumpet in B♭", "brass", 57, 52, 82, -2,
        spellings=("tpt", "trpt", "tp", "trp", "trompete", "trompette", "trompet", "tromba"),
        sounds=("brass.trumpet",),
    ),
    Instrument(
        "clarinet", "Clarinet in B♭", "woodwind", 72, 50, 94, -2,
        spellings=("cl", "clar", "clari", "klarinette", "clarinette", "clarinetto"),
        sounds=("wind.reed.clarinet",),
    ),
    Instrument(
        "trombone", "Trombone", "brass", 58, 40, 72, clef="F4",
        spellings=(
            "tbn", "tbne", "trb", "trbn", "bone", "tenor trombone", "posaune", "t bone",
            "zugposaune",
        ),
        sounds=("brass.trombone",),
    ),
    Instrument(
        "flute", "Flute", "woodwind", 74, 60, 98,
        spellings=("fl", "flöte", "querflöte", "flauto", "concert flute"),
        sounds=("wind.flutes.flute",),
    ),
    Instrument(
        "vibraphone", "Vibraphone", "percussion", 12, 53, 89,
        spellings=("vibes", "vib", "vibe", "vibrafon", "vibraharp"),
        sounds=("pitched-percussion.vibraphone",),
    ),
    Instrument(
        "guitar", "Guitar", "strings", 27, 40, 84, -12,
        spellings=(
            "gtr", "guit", "git", "gitarre", "guitare", "electric guitar", "jazz guitar",
            "acoustic guitar", "e gitarre",
        ),
        sounds=("pluck.guitar",),
    ),
    Instrument(
        "piano", "Piano", "keyboard", 1, 21, 108, clef="",
        spellings=("pno", "pf", "klavier", "pianoforte", "grand piano", "keys", "keyboard"),
        sounds=("keyboard.piano",),
    ),
    Instrument(
        "voice", "Voice", "voice", 54, 36, 84, clef="",
        spellings=(
            "vocal", "vocals", "vox", "voc", "singer", "voix", "stimme", "gesang", "neutral",
            "soprano voice", "sopran", "mezzo soprano", "choir",
        ),
        sounds=("voice",),
    ),
    Instrument(
        "flugelhorn", "Flugelhorn in B♭", "brass", 57, 52, 82, -2,
        spellings=("flugel", "flgh", "flg", "flug", "flhn", "bugle"),
        sounds=("brass.flugelhorn",),
    ),
    Instrument(
        "cornet", "Cornet in B♭", "brass", 57, 52, 82, -2,
        spellings=("cnt", "cor", "crt", "kornett", "cornetto", "soprano cornet"),
        sounds=("brass.cornet",),
    ),
    Instrument(
        "horn", "Horn in F", "brass", 61, 35, 77, -7,
        spellings=("french horn", "f horn", "hn", "hrn", "hns", "waldhorn", "corno", "f hn"),
        sounds=("brass.french-horn",),
    ),
    Instrument(
        "oboe", "Oboe", "woodwind", 69, 58, 91,
        spellings=("ob", "hautbois"), sounds=("wind.reed.oboe",),
    ),
    Instrument(
        "english-horn", "English horn in F", "woodwind", 70, 52, 81, -7,
        spellings=("cor anglais", "eh", "e hn", "engl hn", "englischhorn", "corno inglese"),
        sounds=("wind.reed.english-horn",),
    ),
    Instrument(
        "bass-clarinet", "Bass clarinet in B♭", "woodwind", 72, 37, 77, -14,
        spellings=("b cl", "b clar", "bcl", "bass cl", "bassklarinette", "clarinet bass"),
        sounds=("wind.reed.clarinet.bass",),
        remark="A bass clarinet with a low C reaches a minor third lower.",
    ),
    Instrument(
        "bassoon", "Bassoon", "woodwind", 71, 34, 75, clef="F4",
        spellings=("bsn", "bn", "fagott", "fagotto", "basson"), sounds=("wind.reed.bassoon",),
    ),
    Instrument(
        "piccolo", "Piccolo", "woodwind", 73, 74, 108, 12,
        spellings=("picc", "piccolo flute", "pic"), sounds=("wind.flutes.flute.piccolo",),
    ),
    Instrument(
        "violin", "Violin", "strings", 41, 55, 100,
        spellings=("vln", "vn", "vl", "viol", "fiddle", "geige", "violine", "violon"),
        sounds=("strings.violin",),
    ),
    Instrument(
        "viola", "Viola", "strings", 42, 48, 88, clef="C3",
        spellings=("vla", "va", "bratsche", "alto viola"), sounds=("strings.viola",),
    ),
    Instrument(
        "cello", "Cello", "strings", 43, 36, 81, clef="F4",
        spellings=("vc", "vcl", "violoncello", "violoncelle"), sounds=("strings.cello",),
    ),
    Instrument(
        "bass", "Bass", "strings", 33, 28, 67, -12, "F4",
        spellings=(
            "double bass", "upright bass", "acoustic bass", "string bass", "contrabass", "db",
            "kontrabass", "bass guitar", "electric bass", "e bass", "walking bass",
        ),
        sounds=("strings.contrabass", "pluck.bass"),
    ),
    Instrument(
        "tuba", "Tuba", "brass", 59, 26, 65, clef="F4", spellings=("tba", "bass tuba"),
        sounds=("brass.tuba",),
    ),
    Instrument(
        "bass-trombone", "Bass trombone", "brass", 58, 34, 70, clef="F4",
        spellings=("b tbn", "b tbne", "bass tbn", "b trb", "bassposaune", "btb"),
        sounds=("brass.trombone.bass",),
    ),
    Instrument(
        "trombone-treble", "Trombone in B♭ (treble clef)", "brass", 58, 40, 72, -14,
        spellings=(
            "treble clef trombone", "trombone treble clef", "trombone tc", "tbn tc",
            "trombone in bb", "bb trombone",
        ),
    ),
    Instrument(
        "euphonium", "Euphonium", "brass", 58, 40, 72, clef="F4",
        spellings=("euph", "euphonium bc", "euphonium bass clef", "euphonium in c", "euph bc"),
        sounds=("brass.euphonium", "brass.baritone-horn"),
    ),
    Instrument(
        "euphonium-treble", "Euphonium in B♭ (treble clef)", "brass", 58, 40, 72, -14,
        spellings=(
            "treble clef euphonium", "euphonium treble clef", "euphonium tc", "euph tc",
            "euphonium in bb", "bb euphonium", "baritone horn", "baritone tc",
            "baritone treble clef", "bariton tc",
        ),
    ),
    Instrument(
        "trumpet-in-c", "Trumpet in C", "brass", 57, 54, 84, spellings=("c trumpet", "c tpt"),
        sounds=("brass.trumpet.c",),
    ),
    Instrument(
        "clarinet-in-a", "Clarinet in A", "woodwind", 72, 49, 93, -3,
        spellings=("a clarinet", "a cl"), sounds=("wind.reed.clarinet.a",),
    ),
    Instrument(
        "part-in-c", "Part in C", "part", 57, *NO_LIMIT, clef="",
        spellings=("c part", "c", "in c", "concert", "concert pitch", "c instrument"),
    ),
    Instrument(
        "part-in-b-flat", "Part in B♭", "part", 57, *NO_LIMIT, -2,
        spellings=("bb part", "b flat part", "bb", "b flat", "in bb", "bb instrument"),
    ),
    Instrument(
        "part-in-e-flat", "Part in E♭", "part", 57, *NO_LIMIT, -9,
        spellings=("eb part", "e flat part", "eb", "e flat", "in eb", "eb instrument"),
    ),
    Instrument(
        "part-in-bass-clef", "Part in bass clef", "part", 57, *NO_LIMIT, clef="F4",
        spellings=("bass clef", "bass clef part", "c bass clef", "bass clef instrument", "bc"),
    ),
)  # fmt: skip
"""The first with a program or with a sound is the one meant by it."""

BY_KEY: dict[str, Instrument] = {instrument.key: instrument for instrument in INSTRUMENTS}
DEFAULT = BY_KEY["trumpet"]
"""Whose sound is heard where nobody says who plays."""
CONCERT = BY_KEY["part-in-c"]
"""Who reads a score that names no instrument."""

NOT_OURS = (
    "alto flute", "bass flute", "bass trumpet", "alto clarinet", "contrabass clarinet",
    "contra bassoon", "contrabassoon", "bass saxophone", "bass sax", "sopranino sax",
    "alto horn", "tenor horn", "flute d amore", "oboe d amore", "basset horn", "steel guitar",
    "toy piano", "bass drum", "bass marimba",
)  # fmt: skip
"""Instruments of their own that are not in the table, though their names begin or end alike."""
OTHER_SIZES = ("alto", "bass", "contrabass", "contra-alto", "basset", "piccolo")
"""Kinds of a sound that are instruments of another size."""
ANY_SAX = ("sax", "saxofon", "saxophon")
"""Spellings that leave open which saxophone it is; a tenor is taken."""
NOT_ALONE = ("c", "bb", "eb", "b flat", "e flat", "as", "cor", "bc", "ss", "bs")
"""Spellings that mean an instrument only where nothing else stands beside them."""
DESK = re.compile(r"^(\d+(st|nd|rd|th)?|[ivx]+|solo|lead|first|second|third|fourth|\d+[a-c])$")
"""A player's number or place in the section: "2", "2nd", "II", "solo"."""


def plain_words(name: str) -> str:
    """A name as it is compared: small letters, no accents, dots or hyphens.

    >>> plain_words("Alto_Saxophone in E♭ (1st)")
    'alto sax in eb 1st'
    """
    text = name.casefold().replace("♭", "b").replace("♯", "#").replace("b-flat", "bb")
    text = unicodedata.normalize("NFKD", text.replace("e-flat", "eb"))
    text = "".join(sign for sign in text if not unicodedata.combining(sign))
    text = re.sub(r"saxophones?|saxes", "sax", re.sub(r"[^\w#]+|_", " ", text))
    text = re.sub(r"(?<=[^\W\d]{2})(?=\d)", " ", text)
    return re.sub(r"\b([tb]) c\b", r"\1c", " ".join(text.split()))


def instrument_named(name: str) -> Instrument:
    """The instrument that people type so, with spaces, hyphens and capitals as they like.

    Raises ``PhrasingError`` for one that is not known; it names the nearest that is.

    >>> instrument_named("A. Sx.").key, instrument_named("Flügelhorn").key
    ('alto-sax', 'flugelhorn')
    """
    found = instrument_in(name)
    if found is None:
        raise PhrasingError(f"There is no instrument “{name}”{_advice(plain_words(name))}")
    return found


def _advice(words: str) -> str:
    near = difflib.get_close_matches(words, known_names(), n=1)
    known = ", ".join(BY_KEY)
    if near:
        return f"; did you mean “{known_names()[near[0]].key}”? All there are: {known}."
    return f"; choose one of {known}."


def instrument_in(name: str) -> Instrument | None:
    """The instrument that a part's name names, in full or short; None where it names none.

    Numbers of players are passed over, and so is what stands around the name.

    >>> instrument_in("2nd Bb Tpt.").key, instrument_in("Bass flute")
    ('trumpet', None)
    """
    spelling = _spelling_in(name)
    return known_names()[spelling] if spelling else None


def _spelling_in(name: str) -> str | None:
    """The known spelling by which a part's name names an instrument."""
    words = plain_words(name)
    kept = [word for word in words.split() if not DESK.match(word)]
    for whole in (words, " ".join(kept)):
        if whole in known_names():
            return whole
    if is_other_instrument(name):
        return None
    fitting = (run for run in _runs(kept) if run in known_names() and run not in NOT_ALONE)
    return next(fitting, None)


def sax_doubt(name: str) -> Doubt | None:
    """Which saxophone is meant, where a part's name says no more than that it is one.

    >>> [answer.value for answer in sax_doubt("2nd Saxophone").answers]
    ['tenor-sax', 'alto-sax', 'soprano-sax', 'baritone-sax']
    >>> sax_doubt("Alto Sax.") is None
    True
    """
    if _spelling_in(name) not in ANY_SAX:
        return None
    saxes = ("tenor-sax", "alto-sax", "soprano-sax", "baritone-sax")
    answers = tuple(Answer(key, BY_KEY[key].name) for key in saxes)
    return Doubt("instrument", "Saxophone: tenor or alto?", answers)


def is_other_instrument(name: str) -> bool:
    """Whether a part's name is that of an instrument which is not in the table.

    >>> is_other_instrument("Alto flute"), is_other_instrument("Flute")
    (True, False)
    """
    return any(run in NOT_OURS for run in _runs(plain_words(name).split()))


def _runs(words: list[str]) -> Iterator[str]:
    """All runs of words, the longest first, and of these the later ones first."""
    for length in range(len(words), 0, -1):
        for start in range(len(words) - length, -1, -1):
            run = " ".join(words[start : start + length])
            yield run
            yield re.sub(r"(?<=\w\w)s\b", "", run)


@cache
def known_names() -> dict[str, Instrument]:
    """All plain spellings: keys, names with and without their key, and what people type."""
    known: dict[str, Instrument] = {}
    for own in INSTRUMENTS:
        full = plain_words(own.name)
        alone = re.sub(r" in (bb|eb|f|a)$", "", full) if own.is_named else full
        for name in (plain_words(own.key), full, *map(plain_words, own.spellings), alone):
            known.setdefault(name, own)
    return known


def instrument_of_program(program: int) -> Instrument | None:
    """The first instrument with this General MIDI program (from 1), if the table has one.

    >>> instrument_of_program(57).name
    'Trumpet in B♭'
    """
    return next((i for i in INSTRUMENTS if i.program == program), None)


def instrument_of_sound(sound: str) -> Instrument | None:
    """The instrument with this standard sound name (MusicXML 4.0), or whose kind it is of.

    >>> instrument_of_sound("wind.reed.clarinet.bass").key
    'bass-clarinet'
    >>> instrument_of_sound("wind.flutes.flute.alto") is None
    True
    """
    fits = [(len(s), own) for own in INSTRUMENTS for s in own.sounds if _is_kind(sound, s)]
    return max(fits, key=lambda fit: fit[0])[1] if fits else None


def _is_kind(sound: str, ours: str) -> bool:
    """Whether a sound is ours or a kind of it that has no size of its own."""
    rest = sound.removeprefix(ours)
    return f"{sound}.".startswith(f"{ours}.") and rest.strip(".") not in OTHER_SIZES


def written_like(instrument: Instrument, transposition: int) -> Instrument:
    """The instrument, or its row in the table that is written at this transposition.

    A trombone part that sounds a ninth lower than it is written is one in treble clef.

    >>> written_like(BY_KEY["trombone"], -14).key
    'trombone-treble'
    """
    stem = instrument.key.removesuffix("-treble").partition("-in-")[0]
    rows = [instrument, *(i for i in INSTRUMENTS if _is_variant(i.key, stem))]
    return next((row for row in rows if row.transposition == transposition), instrument)


def _is_variant(key: str, stem: str) -> bool:
    return key in (stem, f"{stem}-treble") or key.startswith(f"{stem}-in-")
