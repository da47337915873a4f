"""The live plate: what a toggle restyles, and how quickly the answer may leave.

Outside: the classes are those of the drawing layer's own reading of the whole installation, made another way.
"""

import socket

import pytest

from loomlore.answers.opening import open_dossier
from loomlore.bench.plates import live_plate, restyled
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
