"""The live plate: what a toggle restyles, and how quickly the answer may leave.

Outside: the classes are those of the drawing layer's own reading of the whole installation, made another way.
"""

import socket

import pytest

from loomlore.answers.opening import open_dossier
from loomlore.bench.plates import live_plate
from loomlore.bench.restyling import Pages, restyled
from loomlore.bench.serving import listening_socket
from loomlore.bench.sittings import Sitting
from loomlore.drawing.states import plate_state
from unit.bench.benches import LAMP, dossier

MOVES = ({}, {"switch.lever": "on"}, {"push.push": "pressed"}, {"switch.lever": "on", "push.push": "pressed"})


@pytest.mark.parametrize("moves", MOVES)
@pytest.mark.parametrize("fault", ["", "L2.open", "lamp.filament.burnt-out"])
def test_a_plate_shows_what_the_whole_installation_shows(tmp_path, moves, fault):
    plant = open_dossier(dossier(tmp_path / "lamp", LAMP)).plant()
    sitting = Sitting(plant=plant)
    for lever, to in moves.items():
        sitting.work({"do": "move", "lever": lever, "to": to})
    if fault:
        sitting.work({"do": "fault", "id": fault})
    plate = live_plate(plant, "lamp")
    whole = plate_state(sitting.shown, sitting.now.settled).classes()
    found = restyled(plate, sitting.shown, sitting.now.settled)
    assert len(found["cable"]) == 8
    for role, names in plate.names.items():
        for drawn, known in names.items():
            assert found[role][drawn].split() == list(
                whole[role].get(known, ["is-dead"] if role == "cable" else [])
            )


def test_the_plate_is_trimmed_of_its_sheet_and_carries_no_style(tmp_path):
    plate = live_plate(open_dossier(dossier(tmp_path / "lamp", LAMP)).plant(), "lamp")
    (drawing,) = plate.drawings
    assert "style" not in drawing
    assert "t-title" not in drawing
    assert 'class="rule"' not in drawing


def test_answers_do_not_wait_for_acknowledgements():
    # asyncio turns Nagle's delay off only for sockets that say they are TCP (its _set_nodelay); 40 ms an answer.
    with listening_socket("127.0.0.1", 0) as listening:
        assert listening.proto == socket.IPPROTO_TCP
        assert listening.getsockname()[0] == "127.0.0.1"


def changes_to(pages, page, plate, now, has):
    return pages.changes(page, plate, {"cable": now}, has=has)


def test_a_page_is_told_what_has_changed_and_everything_where_it_missed_an_answer():
    """No source: what any reader of the two rules in the module's head would expect, for one page after another."""
    pages, plate = Pages(), object()
    first, told = changes_to(pages, "p", plate, {"A": "is-dead", "B": "is-dead"}, 0)
    assert told == {"cable": {"A": "is-dead", "B": "is-dead"}}
    second, told = changes_to(pages, "p", plate, {"A": "is-live", "B": "is-dead"}, first)
    assert told == {"cable": {"A": "is-live"}}
    # the answer was lost on the way: the page still has the first
    third, told = changes_to(pages, "p", plate, {"A": "is-live", "B": "is-live"}, first)
    assert told == {"cable": {"A": "is-live", "B": "is-live"}}
    assert len({first, second, third}) == 3
    # another page, another drawing, and one that gives no name
    assert changes_to(pages, "q", plate, {"A": "is-live"}, third)[1] == {"cable": {"A": "is-live"}}
    _, told = changes_to(pages, "p", object(), {"A": "is-live"}, third)
    assert told == {"cable": {"A": "is-live"}}
    assert changes_to(pages, "", plate, {"A": "is-live"}, 0) == (0, {"cable": {"A": "is-live"}})
    assert changes_to(pages, "p", None, {"A": "is-live"}, "x")[1] == {"cable": {"A": "is-live"}}


def test_pages_that_are_gone_are_forgotten():
    pages = Pages()
    first, _ = changes_to(pages, "p", None, {"A": "1"}, 0)
    for number in range(100):
        changes_to(pages, f"other {number}", None, {"A": "1"}, 0)
    assert changes_to(pages, "p", None, {"A": "1"}, first)[1] == {"cable": {"A": "1"}}
