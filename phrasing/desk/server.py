"""The desk's server: a melody's facts, sound and changes, for the pages of one browser.

It listens on this machine alone, lets in who has the key (see ``gate``), and stops by itself
when its last page has been gone for a while.
"""

from __future__ import annotations

import asyncio
import json
import secrets
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass, field
from functools import partial
from importlib.resources import files
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request as Asked
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from phrasing.desk.changes import FEEL
from phrasing.desk.doubts import answered
from phrasing.desk.folder import Folder, OpenMelody, is_chart
from phrasing.desk.gate import Gate
from phrasing.desk.making import KINDS as KINDS_MADE
from phrasing.desk.making import Makings
from phrasing.desk.pages import desk_page
from phrasing.desk.player import Heard, Player
from phrasing.desk.things import told_of_a_chart
from phrasing.desk.told import told, touched, words_of
from phrasing.desk.work import SHAPED, Work, changed, dropped_reading, kept_reading, taken_back
from phrasing.errors import NoSoundError, PhrasingError
from phrasing.lesson.versions import Version
from phrasing.page.score import LAYOUTS

if TYPE_CHECKING:
    import uvicorn

HOST = "127.0.0.1"
GONE = 600.0
"""Seconds without any page after which the server stops."""
BREATH = 10.0
"""Seconds between two signs of life to a page that listens for changes."""
GLANCE = 0.1
"""Seconds between two looks at whether a melody was changed."""
KINDS = {
    ".js": "text/javascript",
    ".css": "text/css",
}


@dataclass(eq=False)
class Desk:
    """What the server serves: a folder, the player, and the pages that are there."""

    folder: Folder
    player: Player
    first: str | None = None
    pages: int = 0
    seen: float = field(default_factory=time.monotonic)
    lock: Lock = field(default_factory=Lock)
    heard: dict[str, tuple[int, Heard]] = field(default_factory=dict)
    makings: Makings = field(default_factory=Makings)

    def whole(self, name: str, melody: OpenMelody) -> Heard:
        """All versions of the melody as it is now, played once for each edition."""
        work, edition = melody.work, melody.edition
        with self.lock:
            known = self.heard.get(name)
        if known and known[0] == edition:
            return known[1]
        heard = self.player.whole({v.name: v.performance for v in work.versions})
        with self.lock:
            self.heard[name] = edition, heard
        return heard

    def at_full_strength(self, work: Work) -> Heard:
        """The shaped version as it would be at full strength, for the lever's way there."""
        shaped = work.shaped(work.lesson_with({**work.held, f"{FEEL}strength": 1.0}))
        return self.player.whole({SHAPED: shaped.performance})

    def stretch(self, name: str, version: Version, start: float, end: float) -> bytes:
        """Some seconds of a version, at the gains that it took when last played as a whole; it
        is played so first where others played in it then."""
        with self.lock:
            known = self.heard.get(name)
        heard, performance = known[1] if known else Heard({}, {}, 0.0), version.performance
        if not heard.fits(version.name, performance):
            heard = self.player.whole({version.name: performance})
        gain = float(heard.gains.get(version.name, 0.0))
        return self.player.stretch(heard.placed(version.name, performance), start, end, gain)

    @property
    def is_left(self) -> bool:
        """Whether no page has been there for a while."""
        return self.pages == 0 and time.monotonic() - self.seen > GONE


def desk_app(desk: Desk) -> Starlette:
    """The desk without its gate."""
    routes = [
        Route("/", _page),
        Route("/static/{name}", _static),
        Route("/melodies", partial(_melodies, desk=desk)),
        Route("/melody/{name}", partial(_melody, desk=desk)),
        Route("/score/{name}", partial(_score, desk=desk)),
        Route("/sound/{name}", partial(_sound, desk=desk)),
        Route("/stretch/{name}", partial(_stretch, desk=desk)),
        Route("/heard/{name}/{step:int}", partial(_heard, desk=desk)),
        Route("/turns/{name}", partial(_turns, desk=desk)),
        Route("/change/{name}", partial(_change, desk=desk), methods=["POST"]),
        Route("/make/{name}", partial(_make, desk=desk), methods=["POST"]),
        Route("/making/{key}", partial(_making, desk=desk)),
        Route("/made/{key}/{place:path}", partial(_made, desk=desk)),
        Route("/drop", partial(_drop, desk=desk), methods=["POST"]),
    ]
    handlers: dict[Any, Any] = {PhrasingError: _told_error}
    return Starlette(routes=routes, exception_handlers=handlers)


async def _told_error(asked: Asked, error: Exception) -> Response:
    """The command line's own sentence."""
    status = 503 if isinstance(error, NoSoundError) else 422
    return JSONResponse({"error": str(error)}, status)


async def _page(asked: Asked) -> Response:
    return Response(desk_page(), media_type="text/html")


async def _static(asked: Asked) -> Response:
    """A file of the page's, by its plain name."""
    name = asked.path_params["name"]
    kind = KINDS.get(Path(name).suffix)
    for room in ("phrasing.desk", "phrasing.page"):
        file = files(room).joinpath("static", name)
        if kind and Path(name).name == name and file.is_file():
            return Response(file.read_bytes(), media_type=kind)
    return Response("There is no such file.", 404)


async def _melodies(asked: Asked, desk: Desk) -> Response:
    names = await run_in_threadpool(lambda: desk.folder.names)
    known = {"folder": desk.folder.path.name, "names": names, "first": desk.first}
    return JSONResponse({**known, "layouts": list(LAYOUTS), "of_chart": told_of_a_chart()})


async def _melody(asked: Asked, desk: Desk) -> Response:
    """All that is told of a melody, with the edition that it is of."""

    def made() -> dict[str, Any]:
        work, edition, _ = _opened(desk, asked)
        return {"edition": edition, "melody": told(work)}

    return JSONResponse(await run_in_threadpool(made))


async def _score(asked: Asked, desk: Desk) -> Response:
    """The score: ``layout`` alone if one is named, what is new since the edition ``have``."""
    layout, have = asked.query_params.get("layout"), asked.query_params.get("have", "")

    def made() -> dict[str, Any]:
        work, edition, melody = _opened(desk, asked)
        known = int(have) if have.isdecimal() else None
        return {"edition": edition, "score": melody.ink.draw(work, edition, layout, known)}

    return JSONResponse(await run_in_threadpool(made))


def _opened(desk: Desk, asked: Asked) -> tuple[Work, int, OpenMelody]:
    melody = desk.folder.open(asked.path_params["name"])
    with melody.lock:
        return melody.work, melody.edition, melody


async def _sound(asked: Asked, desk: Desk) -> Response:
    """A version's sound as a WAV file; its header says when the music starts."""
    name, version = asked.path_params["name"], asked.query_params.get("version", "shaped")
    melody = await run_in_threadpool(desk.folder.open, name)
    whole = partial(desk.whole, name, melody)
    if asked.query_params.get("strength") == "1":
        whole = partial(desk.at_full_strength, melody.work)
    heard = await run_in_threadpool(whole)
    if version not in heard.files:
        raise PhrasingError(f"There is no version “{version}” any more.")
    return Response(
        heard.files[version],
        media_type="audio/wav",
        headers={"Music-Starts": f"{heard.starts:.6f}", "Edition": str(melody.edition)},
    )


async def _stretch(asked: Asked, desk: Desk) -> Response:
    """Some seconds of a version as it is now, at the gain it took when last measured.

    ``without``: the number of a step; as it was before that one.
    """
    name = asked.path_params["name"]
    version = asked.query_params.get("version", "shaped")
    start, end = (_seconds(asked, each) for each in ("from", "to"))
    melody = await run_in_threadpool(desk.folder.open, name)
    work = _without(melody.work, asked.query_params.get("without"))
    found = next((v for v in work.versions if v.name == version), None)
    if found is None or not 0 <= start < end <= start + MOST_SECONDS:
        raise PhrasingError("That stretch cannot be played; the page is out of date.")
    play = partial(desk.stretch, name, found, start, end)
    content = await run_in_threadpool(play)
    return Response(content, media_type="audio/wav")


def _without(work: Work, step: str | None) -> Work:
    return taken_back(work, int(step)) if step and step.isdecimal() else work


async def _heard(asked: Asked, desk: Desk) -> Response:
    """Where a step is heard: the seconds of the shaped version that it changes, or null."""
    melody = await run_in_threadpool(desk.folder.open, asked.path_params["name"])
    work, step = melody.work, asked.path_params["step"]

    def found() -> Any:
        return touched(taken_back(work, step), taken_back(work, step, stands=True))

    return JSONResponse({"touched": await run_in_threadpool(found)})


MOST_SECONDS = 120.0


def _seconds(asked: Asked, name: str) -> float:
    try:
        return float(asked.query_params.get(name, "nan"))
    except ValueError:
        return float("nan")


async def _change(asked: Asked, desk: Desk) -> Response:
    """Do what the page asks, and say when it is heard; it is on disk when this answers."""
    wish = await _json(asked)
    melody = await run_in_threadpool(desk.folder.open, asked.path_params["name"])
    step = _step(wish)

    def done() -> dict[str, Any]:
        with melody.lock:
            before = melody.work
            after = melody.change(step)
            return {
                "edition": melody.edition,
                "touched": touched(before, after),
                "melody": told(after),
            }

    return JSONResponse(await run_in_threadpool(done))


def _step(wish: Any) -> Callable[[Work], Work]:
    """The one thing that a wish asks for."""
    if not isinstance(wish, dict) or len(wish) != 1:
        raise PhrasingError("A page asks for one thing at a time; it is out of date.")
    what, value = next(iter(wish.items()))
    if what == "set":
        return lambda work: changed(work, value)
    if what in ("back", "again") and isinstance(value, int):
        return lambda work: taken_back(work, value, what == "again")
    if what == "answer":
        return lambda work: answered(work, value)
    if what == "keep":
        return lambda work: kept_reading(work, value)
    if what == "drop":
        return lambda work: dropped_reading(work, value)
    raise PhrasingError(f"The desk does not know what “{str(what)[:40]}” is.")


async def _json(asked: Asked) -> Any:
    try:
        return json.loads(await asked.body())
    except (ValueError, RecursionError):
        raise PhrasingError("A change is written as JSON.") from None


async def _make(asked: Asked, desk: Desk) -> Response:
    """Begin to make files of the melody as it is now."""
    wish = await _json(asked)
    what, chosen = (wish.get("what"), wish.get("chosen")) if isinstance(wish, dict) else (0, 0)

    def begun() -> str:
        path = desk.folder.file(asked.path_params["name"])
        decided = [] if is_chart(path) else words_of(desk.folder.open(path.name).work)
        return desk.makings.start(path, what, chosen, decided).key

    return JSONResponse({"making": await run_in_threadpool(begun)})


async def _making(asked: Asked, desk: Desk) -> Response:
    """How far something is that is being made."""
    making = desk.makings.known(asked.path_params["key"])
    if making is None:
        raise PhrasingError("Nothing of that is being made any more.")
    return JSONResponse(await run_in_threadpool(making.told))


async def _made(asked: Asked, desk: Desk) -> Response:
    """A file that was made, to be looked at and listened to."""
    making = desk.makings.known(asked.path_params["key"])
    find = partial(making.file if making else lambda name: None, asked.path_params["place"])
    file = await run_in_threadpool(find)
    if file is None:
        return Response("There is no such file.", 404)
    return FileResponse(file, media_type=KINDS_MADE[file.suffix])


async def _drop(asked: Asked, desk: Desk) -> Response:
    """Take a file that was dropped on the page into the folder."""
    name = asked.query_params.get("name", "")
    put = partial(desk.folder.drop, name, await asked.body())
    return JSONResponse({"name": await run_in_threadpool(put)})


async def _turns(asked: Asked, desk: Desk) -> Response:
    """A stream that tells each new edition; as long as it is open, the page is there."""
    melody = await run_in_threadpool(desk.folder.open, asked.path_params["name"])
    return StreamingResponse(_editions(desk, melody), media_type="text/event-stream")


async def _editions(desk: Desk, melody: OpenMelody) -> AsyncIterator[str]:
    desk.pages += 1
    try:
        edition = melody.edition
        yield f"data: {edition}\n\n"
        while True:
            told_at = time.monotonic()
            while melody.edition == edition and time.monotonic() - told_at < BREATH:
                await asyncio.sleep(GLANCE)
            yield f"data: {melody.edition}\n\n" if melody.edition != edition else ": here\n\n"
            edition = melody.edition
    finally:
        desk.pages -= 1
        desk.seen = time.monotonic()


def serve(
    folder: Path,
    first: str | None = None,
    *,
    soundfont: Path | None = None,
    port: int = 0,
    ready: Callable[[str], None] = print,
) -> None:
    """Serve a folder until the last page is gone for a while, or until Ctrl-C.

    ``first``: the file a page opens with. ``port``: 0 takes a free one. ``ready`` is given
    the address, with its key, once it can be opened. Raises ``PhrasingError`` where nothing
    can be served.
    """
    import socket

    import uvicorn

    desk = Desk(Folder(folder), Player(soundfont), first)
    key = secrets.token_urlsafe(24)
    try:
        listening = socket.create_server((HOST, port))
    except OSError as error:
        raise PhrasingError(f"Port {port} cannot be used ({error.strerror}).") from error
    port = listening.getsockname()[1]
    app = Gate(desk_app(desk), key, port)
    config = uvicorn.Config(
        app, log_level="critical", access_log=False, timeout_graceful_shutdown=1, lifespan="off"
    )
    server = uvicorn.Server(config)
    ready(f"http://{HOST}:{port}/enter?key={key}")
    try:
        asyncio.run(_until_left(server, desk, [listening]))
    finally:
        desk.player.close()
        listening.close()


async def _until_left(server: uvicorn.Server, desk: Desk, sockets: list[Any]) -> None:
    async def watch() -> None:
        while not desk.is_left:
            await asyncio.sleep(1.0)
        server.should_exit = True

    watching = asyncio.create_task(watch())
    try:
        await server.serve(sockets=sockets)
    finally:
        watching.cancel()
