"""Who may speak to the bench, and what its pages may do.

Outside: RFC 9110 (421 misdirected, 403, 413, 415), CSP level 3 and Trusted Types as the browsers' documents
have them; the attacks are the usual ones on a server of the loopback address (a foreign name pointed at it, a
form of another site, a path that climbs).
"""

import re

import pytest

pytest.importorskip("httpx2", reason="starlette's test client asks for it; requirements/dev.txt has it")

from starlette.testclient import TestClient

from unit.bench.benches import HOST, LAMP, ORIGIN, dossier, guarded, let_in

PAGES = (
    "/",
    "/service/lamp",
    "/where",
    "/where?for=lamp",
    "/item/lamp",
    "/sources",
    "/record/cable",
    "/findings",
)


@pytest.fixture
def folder(tmp_path):
    return dossier(tmp_path / "lamp", LAMP)


@pytest.fixture
def client(folder):
    return let_in(folder)


@pytest.fixture
def stranger(folder):
    return TestClient(guarded(folder)[0], base_url=ORIGIN, headers={"Origin": ORIGIN})


@pytest.mark.parametrize("path", [*PAGES, "/assets/bench.js", "/plate/lamp.svg", "/nowhere"])
def test_without_the_cookie_nothing_is_told(stranger, path):
    answer = stranger.get(path)
    assert answer.status_code == 403
    assert "lamp" not in answer.text.lower().replace("loomlore", "")


def test_a_token_lets_one_browser_in_once(folder):
    application, guard = guarded(folder)
    token = guard.fresh_token()
    first = TestClient(application, base_url=ORIGIN)
    assert first.get(f"/?token={token}").status_code == 200
    second = TestClient(application, base_url=ORIGIN)
    assert second.get(f"/?token={token}").status_code == 403
    assert second.get("/?token=").status_code == 403


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(folder):
    application, guard = guarded(folder)
    client = TestClient(application, base_url=ORIGIN, follow_redirects=False)
    answer = client.get(f"/?token={guard.fresh_token()}")
    assert answer.status_code == 303
    said = answer.headers["set-cookie"].lower()
    assert "httponly" in said
    assert "samesite=strict" in said
    assert "token" not in answer.headers["location"]


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8765", "127.0.0.1:1", "", "127.0.0.1.evil.example:8765"]
)
def test_a_foreign_host_is_turned_away(client, host):
    assert client.get("/", headers={"Host": host}).status_code == 421


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "null", "http://127.0.0.1:1", "https://" + HOST, ""]
)
@pytest.mark.parametrize("path", ["/operate", "/edit", "/another"])
def test_only_a_page_of_the_bench_may_change_something(client, origin, path):
    assert client.post(path, json={}, headers={"Origin": origin}).status_code == 403


def test_another_site_may_not_send_even_with_the_right_origin_claimed(client):
    assert client.post("/operate", json={}, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403


@pytest.mark.parametrize("media", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data"])
def test_no_form_can_send(client, media):
    answer = client.post("/operate", content=b'{"service":"lamp"}', headers={"Content-Type": media})
    assert answer.status_code == 415


def test_too_large_a_body_is_refused_with_and_without_its_length_said(client):
    large = b'{"text":"' + b"x" * 1_100_000 + b'"}'
    kind = {"Content-Type": "application/json"}
    assert client.post("/edit", content=large, headers=kind).status_code == 413
    assert client.post("/edit", content=iter([large]), headers=kind).status_code == 413


@pytest.mark.parametrize("bad", [b"{", b"[]", b"\xff", b"[" * 100_000, b'"x"'])
def test_a_body_that_is_no_object_is_refused(client, bad):
    answer = client.post("/operate", content=bad, headers={"Content-Type": "application/json"})
    assert answer.status_code in (400, 409)
    assert "refused" in answer.json()


@pytest.mark.parametrize("path", [*PAGES, "/nowhere", "/assets/bench.css", "/record/nothing"])
def test_every_answer_has_a_strict_policy(client, path):
    headers = client.get(path).headers
    policy = dict(part.strip().partition(" ")[::2] for part in headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == policy["style-src"] == "'self'"
    assert policy["trusted-types"] == "'none'"
    assert policy["require-trusted-types-for"] == "'script'"
    assert policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"


def test_no_page_leans_on_what_the_policy_forbids(client):
    for path in PAGES:
        page = client.get(path).text
        assert not re.search(
            r"<script(?![^>]* src=)|\son\w+=|style=|javascript:|https?://(?!www\.w3\.org)", page
        ), path
        assert len(page) < 200_000


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../serving.py",
        "/assets/%2e%2e%2fserving.py",
        "/assets/..%2f..%2fcli%2f__init__.py",
        "/assets//etc/passwd",
        "/assets/%2Fetc%2Fpasswd",
        "/assets/bench.css%00",
        "/plate/..%2f..%2fpage.svg",
        "/item/..%2fpage.toml",
    ],
)
def test_no_path_leaves_the_bench(client, path):
    assert client.get(path).status_code in (403, 404)


def test_a_page_may_ask_for_another_browsers_address(client):
    token = client.post("/another", json={}).json()["token"]
    client.cookies.clear()
    assert client.get("/").status_code == 403
    assert client.get(f"/?token={token}").status_code == 200
