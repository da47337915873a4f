"""The answer of ``sources``: what cannot be read is listed, and disagreements say what changes."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.behaviour.small import HEAD, HORN

from loomlore.answers.opening import open_dossier
from loomlore.answers.pages import as_html, as_text
from loomlore.answers.sources import sources

SAID = """
[source.survey]
title = "Survey (invented)"
nature = "survey"

[[statement]]
id     = "reads"
source = "notes 1"
words  = "At LAND with the wheels down the horn is silent."
when   = "selector is land and wheels is locked-down"
then   = "horn is silent"

[[statement]]
id     = "broken-then"
source = "notes 2"
words  = "The horn is up or moving."
when   = "selector is land"
then   = "horn is silent or or sounding"

[[statement]]
id     = "broken-when"
source = "notes 3"
words  = "With the wheels up the horn sounds."
when   = "wheels is = locked-up"
then   = "horn is sounding"

[[statement]]
id     = "hb-fuse"
source = "notes 4"
words  = "Way 1, 5 amperes."
about  = "box.1.fuse"
says   = "5 A"

[[statement]]
id     = "survey-fuse"
source = "survey 1"
words  = "Way 1: 1 ampere."
about  = "box.1.fuse"
says   = "1 A"

[[statement]]
id     = "hb-kind"
source = "notes 5"
words  = "A horn."
about  = "horn.kind"
says   = "horn"

[[statement]]
id     = "survey-kind"
source = "survey 2"
words  = "A warning lamp stands where the horn should be."
about  = "horn.kind"
says   = "lamp"

[[statement]]
id     = "hb-switch"
source = "notes 6"
words  = "There is a switch on the throttle."
about  = "throttle-switch"
says   = "present"

[[statement]]
id     = "survey-switch"
source = "survey 3"
words  = "No switch is to be found on the throttle."
about  = "throttle-switch"
says   = "absent"

[[statement]]
id     = "hb-positions"
source = "notes 7"
words  = "The selector has LAND and WATER."
about  = "selector.positions"
says   = "land, water"

[[statement]]
id     = "survey-positions"
source = "survey 4"
words  = "The selector's plate reads LAND and SEA."
about  = "selector.positions"
says   = "land, sea"

[[statement]]
id     = "hb-length"
source = "notes 8"
words  = "H3, 3 metres."
about  = "H3.length"
says   = "3 m"

[[statement]]
id     = "survey-length"
source = "survey 5"
words  = "H3 is 60 metres long, coiled up."
about  = "H3.length"
says   = "60 m"
"""


@pytest.fixture(scope="module")
def answer(tmp_path_factory):
    folder: Path = tmp_path_factory.mktemp("said")
    for number, text in enumerate((HEAD, HORN, SAID)):
        (folder / f"{number}.toml").write_text(text, encoding="utf-8")
    return sources(open_dossier(folder))


def words_of(answer, about: str) -> str:
    (contrast,) = (c for c in answer.contrasts if c.about == about)
    (other,) = contrast.others
    return "\n".join([*(change.words for change in other.changes), other.nothing])


def test_what_does_not_read_is_listed_and_not_judged_without_its_lost_half(answer):
    assert [entry.statement.id for entry in answer.judged] == ["reads"]
    assert [unread.id for unread in answer.unread] == ["broken-then", "broken-when"]
    text = as_text(answer.page())
    assert text.count("not read: see check (2.toml:") == 2
    assert "not read: see check" in as_html(answer.page())
    data = answer.as_data()
    assert [u["id"] for u in data["not_read"]] == ["broken-then", "broken-when"]
    assert all(u["line"] > 1 for u in data["not_read"])


def test_a_smaller_fuse_goes(answer):
    """42 W at 24 V are 1.75 A, and a little more at a fresh battery's 25: a 1 A fuse melts at 1.75."""
    words = words_of(answer, "box.1.fuse")
    assert "with 5 A: 36% of what it carries" in words  # 1.75 A at 24 V, 1.81 at 24.8
    assert "with 1 A: it would go" in words


def test_another_kind_is_seen(answer):
    """A lamp neither sounds nor is silent: the sentence can no longer be judged."""
    words = words_of(answer, "horn.kind")
    assert "with horn: proved" in words
    assert "not computable" in words or "out of scope" in words


def test_what_is_absent_leaves_its_circuit_open(answer):
    words = words_of(answer, "throttle-switch")
    assert "Horn: with present: sounding" in words
    assert "with absent: silent" in words


def test_other_position_names_leave_sentences_without_their_word(answer):
    words = words_of(answer, "selector.positions")
    assert "'wheel-switch': 'selector' is never 'water'" in words


def test_sixty_metres_cost_the_horn_volts(answer):
    """1.0 mm2 at the standard's 19.5 ohm a kilometre, 57 m more: 1.1 ohm, 1.9 V of the horn's 1.75 A."""
    words = words_of(answer, "H3.length")
    assert "Drop at the horn" in words
    assert "over the circular's" in words
    assert "with 3 m: 0." in words


def test_html_and_data_tell_the_changes_too(answer):
    html, data = as_html(answer.page()), answer.as_data()
    for contrast in data["properties"]["contrasts"]:
        for reading in contrast["readings"]:
            for change in reading["changes"]:
                assert change["words"].replace("'", "&#x27;").split(": ")[0][:30] in html or "&" in html
    assert "what changes with 1 A instead of 5 A" in html


def test_what_is_stopped_keeps_what_was_found(tmp_path):
    for number, text in enumerate((HEAD, HORN, SAID)):
        (tmp_path / f"{number}.toml").write_text(text, encoding="utf-8")
    seen = []

    def told(done: int, of: int) -> None:
        seen.append((done, of))
        if done == 3:
            raise KeyboardInterrupt

    stopped = sources(open_dossier(tmp_path), progress=told)
    assert seen == [(1, 6), (2, 6), (3, 6)]  # one sentence, five matters
    assert len(stopped.judged) == 1
    assert len(stopped.contrasts) == 2
    assert stopped.left == 3
    assert "Stopped: 3" in as_text(stopped.page())
