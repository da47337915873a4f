"""Pages as they are read: everything of the record stays text, and what is wrong comes back as a sentence."""

from html.parser import HTMLParser

import pytest

pytest.importorskip("httpx2", reason="starlette's test client asks for it; requirements/dev.txt has it")

from unit.bench.benches import LAMP, dossier, drawn, let_in

EVIL = "<img src=x onerror=alert(1)>\"'&<script>alert(2)</script>"


class Tags(HTMLParser):
    """Names of all tags, attributes, and the text of a page."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.words = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data):
        self.words.append(data)


def parsed(text):
    reader = Tags()
    reader.feed(text)
    return reader


@pytest.fixture
def evil(tmp_path):
    quoted = EVIL.replace("\\", "\\\\").replace('"', '\\"')
    text = LAMP.replace('title   = "Lamp"', f'title   = "{quoted}"')
    text = text.replace('{ kind = "switch" }', f'{{ kind = "switch", name = "{quoted}", text = "{quoted}" }}')
    text = text.replace("The switch lights the lamp.", quoted).replace(
        "A lamp of an invented aeroplane", quoted
    )
    return let_in(dossier(tmp_path / "evil", text))


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/service/lamp",
        "/where?for=img",
        "/item/switch",
        "/sources",
        "/record/item",
        "/record/statement",
        "/faults?service=lamp",
        "/sheet/cables/lamp",
    ],
)
def test_markup_in_the_record_stays_text(evil, path):
    answer = evil.get(path)
    assert answer.status_code == 200
    page = parsed(answer.text)
    assert "img" not in page.tags
    assert page.tags.count("script") == 1
    assert not [name for name in page.attributes if name.startswith("on")]
    assert "onerror=alert(1)" in "".join(page.words)


def test_what_is_searched_for_stays_text(evil):
    page = evil.get("/where", params={"for": EVIL}).text
    assert "img" not in parsed(page).tags


@pytest.fixture
def client(tmp_path):
    return let_in(dossier(tmp_path / "lamp", LAMP))


def test_a_service_page_has_words_plate_controls_and_readings(client):
    drawn(client, "lamp")
    page = client.get("/service/lamp").text
    words = "".join(parsed(page).words)
    assert "The switch lights one lamp" in words
    assert "“The switch lights the lamp.”" in words
    assert 'data-item="lamp"' in page
    assert 'data-cable="L2"' in page
    assert 'data-lever="switch.lever"' in page
    assert 'data-push="push.push"' in page
    assert "Not approved data" in words


@pytest.mark.parametrize(
    "path", ["/service/lam", "/item/nothing", "/record/pages", "/plate/none.svg", "/?standard=x"]
)
def test_what_is_not_there_is_said_with_404(client, path):
    assert client.get(path).status_code == 404


def test_a_record_that_holds_nothing_is_said(tmp_path):
    client = let_in(dossier(tmp_path / "gone", LAMP))
    (tmp_path / "gone" / "page.toml").unlink()
    answer = client.get("/")
    assert answer.status_code == 422
    assert "cannot be read" in answer.text


def test_verdicts_come_with_the_moves_that_break_the_sentence(client):
    for _ in range(1000):
        found = client.post("/verdicts", json={"service": "lamp"}).json()
        if found["finished"]:
            break
    assert found["verdicts"]["lit"]["mark"] == "proved"
    assert found["verdicts"]["wrong"]["mark"] == "not so"
    assert found["verdicts"]["wrong"]["moves"] == [{"lever": "switch.lever", "to": "on"}]


def test_function_tables_come(client):
    for _ in range(1000):
        found = client.post("/functions", json={"service": "lamp"}).json()
        if found["finished"]:
            break
    seen = [cell for table in found["result"]["tables"] for row in table["rows"] for cell in row["seen"]]
    assert "lit" in seen
    assert client.post("/functions", json={"service": "no"}).status_code == 409


def test_the_plate_follows_a_move_by_classes_alone(client):
    drawn(client, "lamp")
    asked = {"sitting": "a", "service": "lamp"}
    before = client.post("/operate", json=asked).json()["classes"]
    action = {"do": "move", "lever": "switch.lever", "to": "on"}
    after = client.post("/operate", json={**asked, "action": action}).json()["classes"]
    assert before["contact"]["switch.pole"] == "state-open"
    assert after["contact"]["switch.pole"] == "state-shut"
    assert before["cable"]["L2"] == "is-dead"
    assert after["cable"]["L2"].startswith("is-live")
    assert after["part"]["lamp.filament"] == "is-lit"


def test_two_readers_have_two_sittings(client):
    action = {"do": "move", "lever": "switch.lever", "to": "on"}
    client.post("/operate", json={"sitting": "a", "service": "lamp", "action": action})
    other = client.post("/operate", json={"sitting": "b", "service": "lamp"}).json()
    assert other["seen"]["levers"]["switch.lever"] == "off"


@pytest.mark.parametrize(
    "action",
    [
        {"do": "fly"},
        {"do": "move", "lever": "x", "to": "on"},
        {"do": "move", "lever": "switch.lever", "to": "up"},
        {"do": "wait", "seconds": -1},
        {"do": "wait", "seconds": "x"},
        {"do": "wait", "seconds": 1e99},
        {"do": "fault", "id": "x"},
        {"do": "measure", "from": "x", "to": "earth"},
        {"do": "measure", "from": "lamp.1", "to": "lamp.1"},
        {"do": "moves", "moves": 3},
        {"do": "moves", "moves": [3]},
        {"do": "step", "procedure": "light", "number": 9},
        {"do": "begin", "procedure": "x"},
        {"do": "set", "name": "x", "to": "y"},
        {"do": "moves", "statement": "x"},
    ],
)
def test_a_wrong_action_is_refused_in_words_and_changes_nothing(client, action):
    asked = {"sitting": "a", "service": "lamp"}
    before = client.post("/operate", json=asked).json()
    answer = client.post("/operate", json={**asked, "action": action})
    assert answer.status_code == 409
    assert len(answer.json()["refused"]) > 10
    assert client.post("/operate", json=asked).json() == before


def test_a_card_says_what_could_be_wrong(client):
    card = client.post("/card", json={"sitting": "a", "name": "lamp"}).json()
    assert card["title"] == "Lamp"
    assert any("burnt out" in fault["words"] for fault in card["faults"])
    assert client.post("/card", json={"name": "no"}).status_code == 409


def test_a_page_is_told_only_what_a_move_changes(client):
    """The second answer names the lamp's own circuit and the switch, and nothing of what did not move."""
    asked = {"sitting": "a", "service": "lamp", "page": "p"}
    while not client.post("/drawn", json={"service": "lamp"}).json()["drawn"]:
        pass
    first = client.post("/operate", json={**asked, "has": 0}).json()
    assert set(first["classes"]["cable"]) >= {"L1", "L2", "L3", "L5", "L6", "L7"}
    action = {"do": "move", "lever": "switch.lever", "to": "on"}
    second = client.post("/operate", json={**asked, "has": first["number"], "action": action}).json()
    assert second["seen"]["levers"] == {"switch.lever": "on"}
    changed = second["classes"]["cable"]
    assert "is-live" in changed["L2"]
    assert not {"L5", "L6", "L7"} & set(changed)
    missed = client.post("/operate", json={**asked, "has": first["number"]}).json()
    assert set(missed["classes"]["cable"]) == set(first["classes"]["cable"])


def test_what_is_long_is_packed_and_still_guarded(client):
    """RFC 9110, 8.4.1.3 and 12.5.3: gzip only for whom says that he reads it."""
    packed = client.get("/assets/bench.js", headers={"Accept-Encoding": "gzip"})
    plain = client.get("/assets/bench.js", headers={"Accept-Encoding": "identity"})
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Content-Encoding" not in plain.headers
    assert packed.content == plain.content
    assert int(packed.headers["Content-Length"]) < 0.5 * int(plain.headers["Content-Length"])
    assert "Content-Security-Policy" in packed.headers
    assert "accept-encoding" in packed.headers["Vary"].lower()
