"""The desk's server lets nobody in but its own page, and never falls over."""

from __future__ import annotations

import http.client
import io
import json
import shutil
import threading
import time
import wave
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from phrasing.desk.gate import HEADERS, LARGEST_CHANGE
from phrasing.desk.server import serve

EXAMPLES = Path(__file__).parents[2] / "examples"
TUNE = "late_bus_home.mid"


class Client:
    """A browser with its cookie, that says whatever a test wants it to say."""

    def __init__(self, address: str) -> None:
        parts = urlsplit(address)
        self.host, self.entrance = parts.netloc, f"{parts.path}?{parts.query}"
        self.cookie = ""
        self.cookie = self("GET", self.entrance)[1]["set-cookie"].partition(";")[0]

    def __call__(self, method, path, body=None, **headers):
        line = self.begun(method, path, body, **headers)
        answer = line.getresponse()
        result = answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        line.close()
        return result

    def begun(self, method, path, body=None, **headers):
        """A question that was asked, whose answer is waited for no longer than one likes."""
        said = {"Host": self.host, "Cookie": self.cookie}
        if method == "POST":
            said |= {"Origin": f"http://{self.host}", "Content-Type": "application/json"}
        said |= {name.replace("_", "-"): value for name, value in headers.items()}
        line = http.client.HTTPConnection(self.host, timeout=60)
        content = json.dumps(body) if isinstance(body, dict) else body
        line.request(method, path, content, {k: v for k, v in said.items() if v is not None})
        return line

    def json(self, method, path, body=None):
        status, _, content = self(method, path, body)
        return status, json.loads(content)


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    folder = tmp_path_factory.mktemp("desk")
    shutil.copy(EXAMPLES / TUNE, folder)
    outside = tmp_path_factory.mktemp("outside") / "secret.mid"
    shutil.copy(EXAMPLES / TUNE, outside)
    (folder / "link.mid").symlink_to(outside)
    address: list[str] = []
    served = threading.Thread(
        target=serve, args=(folder,), kwargs={"ready": address.append}, daemon=True
    )
    served.start()
    while not address:
        time.sleep(0.01)
    found = Client(address[0])
    found.folder = folder
    return found


def test_a_file_that_was_made_is_opened_by_its_secret_and_can_ask_for_nothing(client):
    _, answer = client.json("POST", f"/make/{TUNE}", {"what": "sheet"})
    key, told = answer["making"], {"ended": False}
    while not told["ended"]:
        time.sleep(0.1)
        _, told = client.json("GET", f"/making/{key}")
    assert told["error"] is None
    (link,) = told["made"][0]["links"]
    status, headers, content = client("GET", link["href"], Cookie=None)
    assert (status, content[:4]) == (200, b"%PDF")
    assert "sandbox" in headers["content-security-policy"]
    assert "allow-same-origin" not in headers["content-security-policy"]
    for path in (f"{key}x/a.pdf", f"{key}/../{TUNE}", f"{key}/{TUNE}", ""):
        assert client("GET", f"/made/{path}", Cookie=None)[0] == 404
    assert client("GET", f"/making/{key}", Cookie=None)[0] == 403
    assert client("GET", link["href"], Host="elsewhere.example")[0] == 421
    assert client("POST", link["href"], {}, Cookie=None)[0] == 403


def test_a_chart_is_taken_and_a_band_plays_it(client):
    chart = (EXAMPLES / "kettle_blues.chart").read_bytes()
    sent = {"Content_Type": "application/octet-stream"}
    status, _, answer = client("POST", "/drop?name=new.chart", chart, **sent)
    assert (status, json.loads(answer)) == (200, {"name": "new.chart"})
    wish = {"what": "backing", "chosen": {"choruses": "1", "format": "mp3"}}
    _, answer = client.json("POST", "/make/new.chart", wish)
    told = {"ended": False}
    while not told["ended"]:
        time.sleep(0.1)
        _, told = client.json("GET", f"/making/{answer['making']}")
    assert told["error"] is None
    assert [link["name"] for link in told["made"][0]["links"]] == ["backing.mid", "backing.mp3"]
    status, _, answer = client("POST", "/drop?name=torn.chart", b"| \xff\x00", **sent)
    assert status == 422
    assert not (client.folder / "torn.chart").exists()
    (client.folder / "new.chart").unlink()


def test_the_key_leaves_the_address_at_once(client):
    status, headers, _ = client("GET", client.entrance, Cookie=None)
    assert (status, headers["location"]) == (303, "/")
    assert "HttpOnly" in headers["set-cookie"]
    assert "samesite=strict" in headers["set-cookie"].lower()
    assert client("GET", "/enter?key=guess", Cookie=None)[0] == 403


def test_every_answer_carries_the_policy(client):
    for path in ("/", "/melodies", "/nothing", "/static/nothing.js"):
        _, headers, _ = client("GET", path)
        assert {name: headers[name.lower()] for name in HEADERS} == HEADERS


@pytest.mark.parametrize("host", ["example.com", "127.0.0.1", "127.0.0.1:1", "", "localhost"])
def test_another_host_is_refused_even_with_the_key(client, host):
    assert client("GET", "/melodies", Host=host)[0] in (400, 421)
    assert client("GET", client.entrance, Host=host)[0] in (400, 421)


@pytest.mark.parametrize("path", ["/", "/melodies", f"/melody/{TUNE}", "/static/score.js"])
def test_without_the_key_there_is_nothing(client, path):
    assert client("GET", path, Cookie=None)[0] == 403
    assert client("GET", path, Cookie=f"{client.cookie[:-2]}xx")[0] == 403


def test_a_change_comes_from_its_own_page_and_is_json(client):
    wish = {"set": {"mark:1": "ghost"}}
    at = f"/change/{TUNE}"
    for headers, refused in (
        ({"Origin": None}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://example.com"}, 403),
        ({"Origin": f"https://{client.host}"}, 403),
        ({"Content_Type": "text/plain"}, 415),
        ({"Content_Type": None}, 415),
        ({"Content_Length": str(10**9)}, 413),
    ):
        assert client("POST", at, wish, **headers)[0] == refused
    assert client("POST", at, b" " * (LARGEST_CHANGE + 1))[0] == 413
    assert client("GET", at)[0] == 405


@pytest.mark.parametrize(
    "name", ["..%2Fsecret.mid", "link.mid", "%2Fetc%2Fpasswd", "nothing.mid", ".hidden.mid"]
)
def test_nothing_outside_the_folder_is_opened(client, name):
    status, _, content = client("GET", f"/melody/{name}")
    assert status in (404, 422)
    assert b"title" not in content
    assert client.json("GET", "/melodies")[1]["names"] == [TUNE]


@pytest.mark.parametrize("name", ["../server.py", "..%2Fserver.py", "%2e%2e/server.py", "x.py"])
def test_only_the_pages_own_files_are_served(client, name):
    assert client("GET", f"/static/{name}")[0] == 404


def test_a_change_is_on_disk_before_it_is_answered(client):
    status, answer = client.json("POST", f"/change/{TUNE}", {"set": {"mark:3": "ghost"}})
    assert status == 200
    step = answer["melody"]["steps"][-1]
    stored = json.loads((client.folder / "late_bus_home.desk.json").read_text())
    assert stored["steps"][-1] == step
    first, last = answer["touched"]
    notes = answer["melody"]["facts"]["versions"][1]
    assert first == pytest.approx(notes["onset"][3], abs=1e-4)
    assert last >= notes["release"][3] - 1e-4
    assert 3 in answer["melody"]["own"]
    _, answer = client.json("POST", f"/change/{TUNE}", {"back": step["number"]})
    assert 3 not in answer["melody"]["own"]


@pytest.mark.parametrize(
    "wish", [{}, {"set": {"mark:3": "growl"}}, {"back": 99}, {"jump": 1}, {"set": 1, "back": 2}]
)
def test_a_wish_that_cannot_be_is_answered_in_one_sentence(client, wish):
    status, answer = client.json("POST", f"/change/{TUNE}", wish)
    assert status == 422
    assert answer["error"].endswith(".")


def test_a_dropped_file_is_put_into_the_folder_once(client):
    content = (EXAMPLES / "caretakers_keys.mid").read_bytes()
    send = {"Content_Type": "application/octet-stream"}
    for _ in range(2):
        status, _, answer = client("POST", "/drop?name=new.mid", content, **send)
        assert (status, json.loads(answer)) == (200, {"name": "new.mid"})
    status, _, answer = client("POST", "/drop?name=C:%5Cnew.mid", content[:20], **send)
    assert status == 422
    assert sorted(p.name for p in client.folder.glob("new*.mid")) == ["new.mid"]
    assert client("POST", "/drop?name=page.html", b"<script>", **send)[0] == 422
    (client.folder / "new.mid").unlink()


def test_a_thousand_questions_at_once_are_answered(client):
    with ThreadPoolExecutor(50) as many:
        asked = [many.submit(client, "GET", "/melodies") for _ in range(1000)]
        assert {each.result()[0] for each in asked} == {200}


@pytest.mark.parametrize(
    "start,end", [("1", "1"), ("2", "1"), ("-1", "1"), ("0", "200"), ("x", "1")]
)
def test_a_stretch_that_is_none_is_refused(client, start, end):
    status, told = client.json("GET", f"/stretch/{TUNE}?version=shaped&from={start}&to={end}")
    assert status == 422
    assert "cannot be played" in told["error"]


def test_a_stretch_is_a_wave_of_so_many_seconds(client):
    status, headers, content = client("GET", f"/stretch/{TUNE}?version=plain&from=1&to=1.5")
    assert (status, headers["content-type"]) == (200, "audio/wav")
    with wave.open(io.BytesIO(content)) as file:
        assert file.getnframes() == pytest.approx(0.5 * file.getframerate(), rel=0.02)
