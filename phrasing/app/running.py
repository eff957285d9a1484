"""How a command runs and ends: in one line and an exit code, whatever happens.

Exit codes: 0 done; 2 something in the input or the request has to be put right, told in one
line; 3 the MIDI files are written, but there is no synthesizer or soundfont for the sound;
128 and the signal's number (130 for Ctrl-C): stopped, with nothing left behind.
"""

from __future__ import annotations

import io
import os
import re
import signal
import sys
from collections.abc import Callable
from contextlib import suppress
from types import FrameType
from typing import Any

import typer

from phrasing.errors import PhrasingError
from phrasing.files.staging import STOPS
from phrasing.printable import message

FAULT, WRONG, STOPPED = 1, PhrasingError.exit_code, 128
"""Exit codes; that of a run that was stopped is this and the signal's number."""


class Stopped(BaseException):
    """The program was asked to end: by Ctrl-C, by a closed window, or by the system."""


def prepare() -> None:
    """Make the streams and signals ready for a command."""
    _open_closed_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="replace")
    for stop in STOPS:
        if signal.getsignal(stop) != signal.SIG_IGN:
            signal.signal(stop, _stop)


def _stop(number: int, frame: FrameType | None) -> None:
    raise Stopped(number)


def _open_closed_streams() -> None:
    """What goes to a closed stream goes nowhere; no other file may get its number."""
    for name in ("stdin", "stdout", "stderr"):
        if getattr(sys, name) is None:
            mode = "r" if name == "stdin" else "w"
            setattr(sys, name, open(os.devnull, mode, encoding="utf-8"))  # noqa: SIM115


def run(command: Callable[[], Any]) -> int:
    """The exit code of a command; its failure is told in one line on standard error."""
    try:
        code = int(command() or 0)
        sys.stdout.flush()
        return code
    except PhrasingError as error:
        return _tell(error, error.exit_code)
    except Stopped as error:
        return _tell("stopped.", STOPPED + int(error.args[0]))
    except (KeyboardInterrupt, typer.Abort):
        return _tell("stopped.", STOPPED + signal.SIGINT)
    except typer.Exit as error:
        return error.exit_code
    except typer.TyperException as error:
        return _tell(f"{_in_plain_words(error.format_message())} See --help.", WRONG)
    except (BrokenPipeError, SystemExit):
        # Whoever read the output has gone; rich says so by a SystemExit of its own.
        _stop_printing()
        return 0
    except OSError as error:
        _stop_printing()
        return _tell(f"{error.filename or 'The output'}: {error.strerror or error}.", WRONG)
    except Exception as error:
        return _tell(f"a fault of this program, not yours: {error!r}. Please report it.", FAULT)


def _stop_printing() -> None:
    """Nobody takes what is printed: what is left of it must not fail once more at the end."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _in_plain_words(text: str) -> str:
    """A parser's complaint about an option, in words for people."""
    number = re.search(r"for '([^']+)': .*\b(number|float|integer)\b", text)
    if number:
        kind = "whole number" if number[2] == "integer" else "number"
        return f"{number[1].strip('[].')} takes a {kind}."
    return text if text.endswith((".", "?", "!")) else f"{text}."


def _tell(text: object, code: int) -> int:
    with suppress(OSError):
        print(f"phrasing: {message(text)}", file=sys.stderr)
    return code
