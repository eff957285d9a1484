"""The one exception a user may meet."""

from typing import ClassVar

from phrasing.printable import message


class PhrasingError(Exception):
    """Something in the input or the settings that the user can put right.

    The message is one line: it names the file, the place in it, and the remedy, in a
    musician's words. What it quotes is shortened, and safe to show (see ``printable``). The
    command line prints it and ends with ``exit_code``.
    """

    exit_code: ClassVar[int] = 2

    def __init__(self, text: object = "") -> None:
        super().__init__(message(text))


class NoSoundError(PhrasingError):
    """No synthesizer library or no soundfont: MIDI can be written, sound cannot.

    The message says what to install.
    """

    exit_code = 3
