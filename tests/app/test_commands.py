"""The command line, used as a teacher would, and misused as anybody might."""

from __future__ import annotations

import json
import os
import stat
import subprocess
import sys
from pathlib import Path

import mido
import pretty_midi
import pytest
import soundfile

from phrasing.app import commands
from phrasing.app.folders import PRACTICE_PAGE
from phrasing.score.marks import MARK_NAMES
from phrasing.sound.soundfonts import embedded_soundfont

EXAMPLES = Path(__file__).parents[2] / "examples"
LATE_BUS = EXAMPLES / "late_bus_home.mid"


@pytest.fixture
def phrasing(capsys):
    """Runs a command in this process: (exit code, standard output, standard error)."""

    def run(*args):
        code = commands.run(lambda: commands.app(list(map(str, args)), standalone_mode=False))
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def refused(result, *words):
    """The result is exit code 2 and one line that holds these words."""
    code, out, err = result
    assert code == 2, (out, err)
    assert err.startswith("phrasing: ")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    for word in words:
        assert word in err


def midi(path, *, notes=(60,), channel=0, type=1):
    track = mido.MidiTrack()
    for note in notes:
        track.append(mido.Message("note_on", note=note, velocity=80, channel=channel))
        track.append(mido.Message("note_off", note=note, time=480, channel=channel))
    file = mido.MidiFile(type=type)
    file.tracks.append(track)
    file.save(path)
    return path


@pytest.mark.long
def test_shape_writes_the_pair_as_midi_and_sound_the_table_and_the_report(phrasing, tmp_path):
    code, out, err = phrasing("shape", LATE_BUS, "-o", tmp_path / "out")
    assert (code, err) == (0, "")
    made = {file.name for file in (tmp_path / "out").iterdir()}
    assert {"plain.mid", "plain.wav", "shaped.mid", "shaped.wav"} <= made
    assert {"marks.csv", "report.json"} <= made
    assert str(tmp_path / "out" / "shaped.wav") in out
    assert "volume low" in out
    report = json.loads((tmp_path / "out" / "report.json").read_text(encoding="utf-8"))
    assert report["title"] == "Late Bus Home"
    assert report["sound"]["files"]["plain.wav"]["loudness_lufs"] == pytest.approx(-18, abs=0.1)


@pytest.mark.long
def test_the_same_input_gives_the_same_bytes(phrasing, tmp_path):
    for name in ("one", "two"):
        assert phrasing("shape", LATE_BUS, "--only", "1-2", "-o", tmp_path / name)[0] == 0
    for file in (tmp_path / "one").iterdir():
        assert file.read_bytes() == (tmp_path / "two" / file.name).read_bytes(), file.name


@pytest.mark.long
def test_the_folder_is_beside_the_melody_by_default(phrasing, tmp_path):
    tune = tmp_path / "spring song.mid"
    tune.write_bytes(LATE_BUS.read_bytes())
    assert phrasing("shape", tune)[0] == 0
    assert (tmp_path / "spring song" / "shaped.mid").is_file()
    assert tune.read_bytes() == LATE_BUS.read_bytes()


def test_files_are_only_replaced_when_asked(phrasing, tmp_path):
    tune, out = midi(tmp_path / "a.mid"), tmp_path / "out"
    assert phrasing("shape", tune, "-o", out)[0] == 0
    before = (out / "report.json").stat().st_mtime_ns
    refused(phrasing("shape", tune, "-o", out), "is there already", "--overwrite")
    assert (out / "report.json").stat().st_mtime_ns == before
    assert phrasing("shape", tune, "-o", out, "--overwrite")[0] == 0


def test_marks_json_has_the_fields_that_are_promised(phrasing):
    code, out, _ = phrasing("marks", LATE_BUS, "--json")
    assert code == 0
    told = json.loads(out)
    assert list(told) == [
        "title", "style", "decrescendos", "tempo", "meter", "pickup", "notes",
    ]  # fmt: skip
    assert (told["tempo"], told["meter"], told["pickup"]) == (152, "4/4", 1)
    first = told["notes"][0]
    assert list(first) == [
        "bar", "beat", "pitch", "length", "mark", "rule", "why", "level", "gate", "slurred"
    ]  # fmt: skip
    assert (first["bar"], first["beat"], first["pitch"], first["length"]) == (0, 4, 65, 0.5)
    assert {note["mark"] for note in told["notes"]} >= {None, *MARK_NAMES}


def test_an_edited_table_wins(phrasing, tmp_path):
    table = tmp_path / "mine.csv"
    table.write_text(phrasing("marks", LATE_BUS, "--csv")[1], encoding="utf-8")
    table.write_text(
        table.read_text(encoding="utf-8").replace(",marcato,", ",tenuto,", 1), encoding="utf-8"
    )
    told = json.loads(phrasing("marks", LATE_BUS, "--marks", table, "--json")[1])
    changed = [note for note in told["notes"] if note["rule"] == "author"]
    assert [note["mark"] for note in changed] == ["tenuto"]
    assert "marcato" in changed[0]["why"]


def test_an_unknown_word_in_a_table_is_named_with_its_row(phrasing, tmp_path):
    table = tmp_path / "mine.csv"
    text = phrasing("marks", LATE_BUS, "--csv")[1].replace(",marcato,", ",loud,", 1)
    table.write_text(text, encoding="utf-8")
    row = next(i for i, line in enumerate(text.splitlines(), 1) if ",loud," in line)
    refused(phrasing("marks", LATE_BUS, "--marks", table), "mine.csv", f"row {row}", "loud")


def test_a_rule_left_out_is_not_heard(phrasing):
    told = json.loads(phrasing("marks", LATE_BUS, "--json", "--except", "dip")[1])
    assert "ghost" not in {note["mark"] for note in told["notes"]}


def test_only_some_bars_keep_the_marks_of_the_whole(phrasing):
    whole = json.loads(phrasing("marks", LATE_BUS, "--json")[1])["notes"]
    part = json.loads(phrasing("marks", LATE_BUS, "--json", "--only", "2-3")[1])["notes"]
    assert [(n["bar"], n["beat"], n["mark"], n["why"]) for n in part] == [
        (n["bar"], n["beat"], n["mark"], n["why"]) for n in whole if n["bar"] in (2, 3)
    ]


def test_some_bars_are_as_loud_and_as_long_as_in_the_whole(phrasing, tmp_path):
    """A long fall that was cut by the excerpt fell as far in fewer notes."""
    whole = json.loads(phrasing("marks", LATE_BUS, "--json")[1])["notes"]
    part = json.loads(phrasing("marks", LATE_BUS, "--json", "--only", "1")[1])["notes"]
    assert part == [note for note in whole if note["bar"] == 1]
    code, _, _ = phrasing("shape", LATE_BUS, "--only", "1", "--no-page", "-o", tmp_path / "x")
    assert code == 0
    played = mido.MidiFile(tmp_path / "x" / "shaped.mid").tracks[-1]
    velocities = [m.velocity for m in played if m.type == "note_on" and m.velocity]
    assert velocities == [round(80 * 10 ** (note["level"] / 40)) for note in part]


def test_no_strength_at_all_is_plain_to_the_byte(phrasing, tmp_path):
    """Held notes were sent controllers that did nothing."""
    code, _, _ = phrasing("shape", LATE_BUS, "--strength", "0", "--no-page", "-o", tmp_path)
    assert code == 0
    for kind in ("mid", "wav"):
        plain, shaped = (tmp_path / f"{name}.{kind}" for name in ("plain", "shaped"))
        assert plain.read_bytes() == shaped.read_bytes()


def test_opus_brings_its_own_rate(phrasing, tmp_path):
    wish = ("--only", "1", "--format", "opus", "--no-page")
    assert phrasing("shape", LATE_BUS, *wish, "-o", tmp_path / "x")[0] == 0
    assert soundfile.info(tmp_path / "x" / "shaped.opus").samplerate == 48000
    refused(phrasing("shape", LATE_BUS, *wish, "--rate", "44100"), "opus", "leave out --rate")


@pytest.mark.parametrize("name,kind", [("a.mid", "MIDI file"), ("a.musicxml", "MusicXML")])
def test_words_under_a_melodys_name_are_not_taken_for_a_chord_chart(
    phrasing, tmp_path, name, kind
):
    (tmp_path / name).write_text("Dear band, rehearsal is on Tuesday.")
    refused(phrasing("marks", tmp_path / name), name, f"is not a {kind}", "export it again")


def test_ratio_tells_words_and_numbers(phrasing):
    code, out, _ = phrasing("ratio", "120", "300")
    assert code == 0
    assert "1.90 : 1" in out
    assert "even eighths" in out


@pytest.mark.long
def test_sounds_listens_to_a_soundfont(phrasing):
    code, out, _ = phrasing("sounds", "--check", embedded_soundfont().path)
    assert code == 0
    assert "Trumpet in B♭: speaks after" in out
    assert "Late notes are struck so much earlier" in out


def test_sounds_names_the_library_and_the_soundfont(phrasing):
    code, out, _ = phrasing("sounds")
    assert code == 0
    assert "fluidsynth" in out.lower()
    assert ".sf2" in out


def test_something_better_is_named_only_beside_the_small_soundfont(phrasing, tmp_path):
    small = Path(pretty_midi.__file__).with_name("TimGM6mb.sf2")
    assert "sounds better" in phrasing("sounds", "--soundfont", small)[1]
    other = tmp_path / "large.sf2"
    other.write_bytes(small.read_bytes())
    assert "sounds better" not in phrasing("sounds", "--soundfont", other)[1]


@pytest.mark.long
def test_without_a_synthesizer_the_midi_is_written_and_a_script_notices(tmp_path):
    out = tmp_path / "out"
    ran = subprocess.run(
        [sys.executable, "-m", "phrasing", "shape", LATE_BUS, "-o", out],
        env={**os.environ, "PHRASING_FLUIDSYNTH": str(tmp_path / "none.so")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert ran.returncode == 3
    assert ran.stderr.count("\n") == 1
    assert "none.so" in ran.stderr
    assert {"plain.mid", "shaped.mid", "marks.csv"} <= {file.name for file in out.iterdir()}
    assert not list(out.glob("*.wav"))


BAD_FILES = {
    "text.mid": b"Dear band, rehearsal is on Tuesday.",
    "empty.mid": b"",
    "cut.mid": LATE_BUS.read_bytes()[:60],
    "random.mid": bytes(range(256)),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_a_file_that_is_no_melody_is_named_and_nothing_is_left(phrasing, tmp_path, name):
    (tmp_path / name).write_bytes(BAD_FILES[name])
    refused(phrasing("shape", tmp_path / name, "-o", tmp_path / "out"), name)
    assert os.listdir(tmp_path) == [name]


def test_files_without_a_melody_are_told_why(phrasing, tmp_path):
    silent = midi(tmp_path / "silent.mid", notes=())
    refused(phrasing("shape", silent), "silent.mid", "no notes")
    drums = midi(tmp_path / "drums.mid", channel=9)
    refused(phrasing("shape", drums), "drums.mid", "drum")
    refused(phrasing("shape", tmp_path), "folder")
    refused(phrasing("shape", tmp_path / "none.mid"), "none.mid")


def test_a_file_cut_off_later_is_read_with_a_warning(phrasing, tmp_path):
    (tmp_path / "cut.mid").write_bytes(LATE_BUS.read_bytes()[:300])
    code, out, _ = phrasing("marks", tmp_path / "cut.mid")
    assert code == 0
    assert "missing" in out
    assert "bar" in out


@pytest.mark.parametrize(
    "options,words",
    [
        (("--except", "dips"), ("dips", "dip")),
        (("--swing", "9"), ("9", "1 (even)")),
        (("--swing", "lots"), ("lots", "straight")),
        (("--tempo", "10"), ("10", "20 to 400")),
        (("--tempo", "fast"), ("--tempo takes a number",)),
        (("--strength", "2"), ("Strength 2", "0 (plain) to 1")),
        (("--instrument", "kazoo"), ("kazoo", "trumpet")),
        (("--only", "40-50"), ("40", "bars 0 to 12")),
        (("--track", "9"), ("9",)),
        (("--soundfont", str(LATE_BUS)), ("late_bus_home.mid", "soundfont")),
        (("--soundfont", "none.sf2"), ("none.sf2",)),
        (("--format", "tape"), ("tape", "wav")),
        (("--rate", "8000"), ("8000", "44100")),
        (("--bits", "8"), ("8", "16")),
        (("--plain", "funky"), ("funky", "swung or straight")),
        (("--marks", "none.csv"), ("none.csv",)),
        (("--feel", "none.toml"), ("none.toml",)),
        (("--louder",), ("--louder", "See --help.")),
    ],
)
def test_a_wish_that_cannot_be_met_is_refused_and_nothing_is_left(
    phrasing, tmp_path, options, words
):
    refused(phrasing("shape", LATE_BUS, "-o", tmp_path / "out", *options), *words)
    assert os.listdir(tmp_path) == []


def test_an_output_that_is_a_file_is_refused(phrasing, tmp_path):
    (tmp_path / "out").write_text("a letter")
    refused(phrasing("shape", LATE_BUS, "-o", tmp_path / "out"), "is a file")
    assert (tmp_path / "out").read_text() == "a letter"


@pytest.mark.skipif(os.name == "nt", reason="needs POSIX permissions")
def test_an_unreadable_file_and_an_unwritable_folder_are_refused(tmp_path):
    """Run as nobody where the tests run as root, for whom every file is readable."""
    tune = tmp_path / "mine.mid"
    tune.write_bytes(LATE_BUS.read_bytes())
    tune.chmod(0)
    with pytest.raises(PermissionError), as_nobody(tmp_path):
        tune.read_bytes()
    with as_nobody(tmp_path):
        code = commands.run(lambda: commands.app(["marks", str(tune)], standalone_mode=False))
        assert code == 2
        locked = tmp_path / "locked"
        code = commands.run(
            lambda: commands.app(
                ["shape", str(LATE_BUS), "-o", str(locked / "out")], standalone_mode=False
            )
        )
        assert code == 2


class as_nobody:  # noqa: N801
    """In the block, this process has no more rights than any user; a folder is locked."""

    def __init__(self, folder):
        self.locked = folder / "locked"

    def __enter__(self):
        self.locked.mkdir(exist_ok=True)
        self.locked.chmod(stat.S_IRUSR | stat.S_IXUSR)
        self.root = os.geteuid() == 0
        if self.root:
            os.seteuid(65534)

    def __exit__(self, *failure):
        if self.root:
            os.seteuid(0)
        self.locked.chmod(0o755)


@pytest.mark.parametrize("command", ["", "shape", "marks", "ratio", "sounds", "demo"])
def test_every_command_has_help_with_an_example(phrasing, command):
    code, out, _ = phrasing(*filter(None, [command]), "--help")
    assert code == 0
    assert not command or command == "sounds" or f"Example: phrasing {command}" in out


def test_the_checkouts_cli_runs():
    ran = subprocess.run(
        [sys.executable, "cli.py", "--help"],
        cwd=EXAMPLES.parent,
        capture_output=True,
        text=True,
        check=True,
    )
    assert "shape" in ran.stdout


def test_even_eighths_are_said_without_a_ratio(phrasing):
    said = phrasing("marks", LATE_BUS, "--swing", "straight")[1]
    assert "even eighths, Trumpet" in said
    assert "swing 1 : 1" not in said


def test_what_is_in_the_way_is_said_before_anything_is_read(phrasing, tmp_path):
    """The page of a practice that was made before, and a melody that cannot be read."""
    melody, out = tmp_path / "broken.mid", tmp_path / "out"
    melody.write_bytes(b"MThd")
    out.mkdir()
    (out / PRACTICE_PAGE).write_text("mine")
    told = phrasing("practice", melody, "-o", out)
    refused(told, PRACTICE_PAGE)
    assert "broken.mid" not in told[2]
    assert [file.name for file in out.iterdir()] == [PRACTICE_PAGE]
