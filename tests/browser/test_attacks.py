"""What somebody would try who can reach the bench, or has put something into a dossier for others to open.

Outside: RFC 9112 (one Host line, absolute forms), RFC 9110 (status codes); the attacks are the usual ones: paths
that climb, a foreign name, a token used twice, bytes drop by drop, links that lead away, markup for names.
"""

import json
import shutil
import socket
import time
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from browser.conftest import ROOT, Served
from browser.speaking import speaker_of

EVIL = "<img src=x onerror=alert(1)>&<script>alert(2)</script>]]>"


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("attacked") / "tug"
    shutil.copytree(ROOT / "examples" / "glider-tug", folder)
    served = Served(folder)
    yield served
    served.stop()


@pytest.fixture(scope="module")
def speaker(bench):
    return speaker_of(bench)


def status(speaker, *lines):
    """The status of an answer to a request written line by line."""
    head = [line.format(host=speaker.at, cookie=speaker.cookie) for line in lines]
    answer = speaker.raw("\r\n".join([*head, "Connection: close", "", ""]).encode())
    return int(answer.split(b" ", 2)[1]), answer


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../../../../../etc/passwd",
        "/../../etc/passwd",
        "//etc/passwd",
        "/assets/%2e%2e%2f%2e%2e%2fserving.py",
        "/assets/%252e%252e%252fserving.py",
        "/assets/..%5c..%5cserving.py",
        "/plate/%2e%2e%2f%2e%2e%2fetc%2fpasswd.svg",
        "/faults/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
        "/faults/%2e%2e",
        "/record/..%2fsources",
        "/item/%00",
        "/service/%ff%fe",
    ],
)
def test_no_path_climbs_out(speaker, path):
    code, answer = status(speaker, f"GET {path} HTTP/1.1", "Host: {host}", "Cookie: {cookie}")
    assert code == 404
    assert b"root:" not in answer
    assert b"import" not in answer


def test_a_foreign_or_doubled_or_missing_host_is_turned_away(speaker):
    assert (
        status(speaker, "GET / HTTP/1.1", "Host: {host}", "Host: evil.example", "Cookie: {cookie}")[0] == 400
    )
    assert status(speaker, "GET / HTTP/1.1", "Host: evil.example", "Cookie: {cookie}")[0] == 421
    assert (
        status(speaker, "GET http://evil.example/ HTTP/1.1", "Host: evil.example", "Cookie: {cookie}")[0]
        == 421
    )
    assert status(speaker, "GET / HTTP/1.0", "Cookie: {cookie}")[0] == 421


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH"])
def test_other_methods_change_nothing(speaker, method):
    assert speaker.ask(method, "/edit", "{}").status == 405
    assert speaker.ask(method, "/edit").status in (403, 405)


def test_the_address_works_once_and_old_ones_run_out(speaker):
    def used(token):
        return speaker.ask("GET", f"/?token={token}", cookie=False).status

    token = speaker.post("/another", {})["token"]
    assert (used(token), used(token)) == (303, 403)
    tokens = [speaker.post("/another", {})["token"] for _ in range(20)]
    assert used(tokens[0]) == 403
    assert used(tokens[-1]) == 303


def test_an_oversized_head_is_refused(speaker):
    answer = speaker.raw(b"GET / HTTP/1.1\r\nHost: " + speaker.at.encode() + b"\r\nX: " + b"x" * 400_000)
    assert answer == b"" or b" 400 " in answer.split(b"\r\n")[0]


def test_silent_connections_do_not_keep_others_out(bench, speaker):
    host, _, port = speaker.at.partition(":")
    lines = []
    try:
        for _ in range(300):
            lines.append(socket.create_connection((host, int(port))))
            lines[-1].sendall(b"GET / HTTP/1.1\r\nHost: ")
        began = time.monotonic()
        assert speaker.get("/").status == 200
        assert time.monotonic() - began < 5
        assert len(list(Path(f"/proc/{bench.process.pid}/fd").iterdir())) < 120
    finally:
        for line in lines:
            line.close()


def test_a_body_that_comes_drop_by_drop_is_cut_off(speaker):
    host, _, port = speaker.at.partition(":")
    head = (
        f"POST /edit HTTP/1.1\r\nHost: {speaker.at}\r\nCookie: {speaker.cookie}\r\n"
        f"Origin: http://{speaker.at}\r\nContent-Type: application/json\r\nContent-Length: 1000\r\n\r\n"
    )
    with socket.create_connection((host, int(port))) as line:
        line.sendall(head.encode())
        began = time.monotonic()
        while not cut_off(line) and time.monotonic() - began < 30:
            time.sleep(0.5)
    assert time.monotonic() - began < 20


def cut_off(line):
    """Whether one more byte no longer gets through."""
    try:
        line.sendall(b"x")
    except OSError:
        return True
    return False


def test_links_lead_nowhere(tmp_path):
    folder, outside = tmp_path / "tug", tmp_path / "outside"
    shutil.copytree(ROOT / "examples" / "glider-tug", folder)
    outside.mkdir()
    (outside / "secret.toml").write_text('[item]\nsecret-thing = { kind = "lamp", name = "Told nobody" }\n')
    (outside / "seen.hunt").write_text('[hunt]\nseen = ["told nobody"]\n')
    for link, to in (("link.toml", outside / "secret.toml"), ("folder", outside), ("hunts", outside)):
        (folder / link).symlink_to(to)
    bench = Served(folder)
    try:
        speaker = speaker_of(bench)
        for path in ("/", "/record/item", "/faults", "/findings"):
            answer = speaker.get(path)
            assert answer.status == 200, path
            assert "told nobody" not in answer.text.lower(), path
        assert speaker.get("/faults/seen").status == 404
        assert "refused" in speaker.post("/edit", {"do": "set", "subject": "item secret-thing", "key": "kind",
                                                   "text": "horn", "version": 1})  # fmt: skip
        assert "Told nobody" in (outside / "secret.toml").read_text()
    finally:
        bench.stop()


# -- a dossier that was made to harm --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def harmful(tmp_path_factory):
    """Every name and sentence of it is markup."""
    folder = tmp_path_factory.mktemp("harmful") / "record"
    folder.mkdir()
    evil = json.dumps(EVIL)
    wire = 'size = "14/.0076 in", length = "1 m"'
    (folder / "page.toml").write_text(
        f'[dossier]\nformat = 1\ntitle = {evil}\nsupply = "24 V"\ntext = {evil}\n\n[item]\n'
        f'battery = {{ kind = "battery", rating = "24 V 20 Ah", name = {evil} }}\n'
        f'switch = {{ kind = "switch", name = {evil}, also = [{evil}] }}\n'
        f'lamp = {{ kind = "lamp", rating = "24 V 6 W", name = {evil}, text = {evil}, place = "there" }}\n\n'
        f"[place]\nthere = {{ name = {evil}, text = {evil}, at = [1.0, 0.0, 0.5] }}\n\n"
        f"[service.lamp]\ntitle = {evil}\naccount = {evil}\n\n[service.lamp.cables]\n"
        f'L1 = {{ from = "battery.+", to = "switch.1", {wire}, mark = {evil} }}\n'
        f'L2 = {{ from = "switch.2", to = "lamp.1", {wire}, colour = {evil} }}\n'
        f'L3 = {{ from = "lamp.2", to = "earth", {wire} }}\nL4 = {{ from = "battery.-", to = "earth", {wire} }}\n\n'
        f'[source]\nbook = {{ title = {evil}, nature = "handbook", date = "1937" }}\n\n'
        f'[[statement]]\nid = "lit"\nsource = "book 1"\nwords = {evil}\nwhen = "switch is on"\nthen = "lamp is lit"\n',
        encoding="utf-8",
    )
    bench = Served(folder)
    yield bench
    bench.stop()


PATHS = ("/", "/service/lamp", "/where?for=img", "/item/lamp", "/sources", "/record/item", "/record/cable",
         "/findings", "/faults")  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_markup_for_names_stays_words_on_every_page(opening_of, harmful, path):
    said = []
    page = opening_of(harmful, "/findings")
    page.on("dialog", lambda dialog: (said.append(dialog.message), dialog.dismiss()))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda one: said.append(one.text) if one.type == "error" else None)
    page.goto(harmful.base + path)
    if path.startswith("/service"):
        page.locator("#drawings svg").first.wait_for(timeout=30_000)
        page.locator(".statement .mark:not(:empty)").first.wait_for(timeout=30_000)
        page.get_by_label("Card of").select_option("lamp")
        page.locator("#card h3").wait_for()
    assert page.locator("img, iframe, object, embed, [onerror], [onload]").count() == 0
    assert page.locator("script").count() == page.locator("script[src^='/assets/']").count()
    assert "onerror=alert(1)" in page.locator("body").inner_text() + page.content()
    assert not said


def test_markup_for_names_stays_words_in_a_drawing(harmful):
    drawing = speaker_of(harmful).get("/plate/lamp.svg")
    assert drawing.headers["Content-Type"].startswith("image/svg+xml")
    assert "script-src" not in drawing.headers["Content-Security-Policy"], "default-src 'none' covers it"
    root = ET.fromstring(drawing.text)
    kinds = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert not kinds & {"script", "img", "image", "foreignObject", "a", "iframe"}
    links = [
        value for element in root.iter() for name, value in element.attrib.items() if name.endswith("href")
    ]
    assert all(link.startswith("#") for link in links)
    assert not [name for element in root.iter() for name in element.attrib if name.lower().startswith("on")]
    assert "onerror" in "".join(root.itertext())
