"""Loops let down: as near to their ends as things allow, nothing crossed anew, room for the mark kept."""

from itertools import pairwise

import pytest

from loomlore.drawing.diagram import localised, parts_of
from loomlore.drawing.layout import laid_out
from loomlore.drawing.scene import Box
from loomlore.drawing.tightening import tightened
from unit.drawing.trial_graphs import NAMES, read_graph

LOOP = ((0.0, 40.0), (0.0, 0.0), (30.0, 0.0), (30.0, 20.0))


def run_height(points):
    """Height of the level run of a loop of four corners."""
    assert points[1][1] == points[2][1]
    return points[1][1]


def test_a_free_loop_comes_down_to_its_nearer_end():
    found = tightened({"w": LOOP}, {"w": 8.0}, [])
    assert 15.0 < run_height(found["w"]) <= 17.0
    assert found["w"][0] == LOOP[0]
    assert found["w"][-1] == LOOP[-1]


def test_a_loop_under_things_goes_up():
    under = tuple((x, -y) for x, y in LOOP)
    assert run_height(tightened({"w": under}, {}, [])["w"]) < -15.0


def test_a_thing_that_reaches_down_between_the_legs_stops_the_run():
    tag = Box(10.0, 8.0, 20.0, 50.0)
    y = run_height(tightened({"w": LOOP}, {}, [tag])["w"])
    assert 0.0 < y <= 8.0 - 1.2


def test_room_for_the_mark_is_kept_on_the_longer_leg():
    y = run_height(tightened({"w": LOOP}, {"w": 30.0}, [])["w"])
    assert 0.0 < y <= 10.0


def test_a_run_stays_where_it_would_cross_what_it_did_not():
    other = ((15.0, 10.0), (15.0, 60.0))
    y = run_height(tightened({"w": LOOP, "v": other}, {}, [])["w"])
    assert 0.0 < y < 10.0


def test_a_run_that_crosses_already_may_move_along_what_it_crosses():
    other = ((15.0, -10.0), (15.0, 60.0))
    assert run_height(tightened({"w": LOOP, "v": other}, {}, [])["w"]) > 15.0


def test_of_two_loops_the_outer_follows_the_inner():
    inner = ((5.0, 40.0), (5.0, 2.5), (25.0, 2.5), (25.0, 20.0))
    found = tightened({"outer": LOOP, "inner": inner}, {}, [])
    assert run_height(found["inner"]) > 15.0
    assert run_height(found["inner"]) - run_height(found["outer"]) >= 2.5 - 1e-9


def test_a_step_is_no_loop():
    step = ((0.0, 0.0), (0.0, 10.0), (30.0, 10.0), (30.0, 20.0))
    assert tightened({"w": step}, {}, []) == {"w": step}


@pytest.mark.parametrize("name", NAMES)
def test_no_loop_of_a_drawing_could_be_let_down_further(name):
    """Looked at anew: one step of the grid nearer to its ends, every loop of two legs meets something."""
    for part in parts_of(localised(read_graph(name))):
        drawing = laid_out(part)
        runs = [(w.wire.id, *sorted(run)) for w in drawing.wires for run in pairwise(w.points)]
        things = [box for node in drawing.nodes for box in (*node.boxes, node.name_box) if box is not None]
        things += [one.box for one in drawing.hung]
        for placed in drawing.wires:
            if len(placed.points) != 4:
                continue
            (_, y0), (x1, y1), (x2, _), (_, y3) = placed.points
            inwards = 1 if y0 > y1 else -1
            if (y0 > y1) != (y3 > y1) or min(abs(y0 - y1), abs(y3 - y1)) < 3.0 + 2.5:
                continue
            mark = next(mark for mark in drawing.marks if mark.wire == placed.wire.id)
            long = max(mark.box.width, mark.box.height) + 2.4 + 1.25
            if max(abs(y0 - y1), abs(y3 - y1)) < long:
                continue
            y, left, right = y1 + inwards * 1.25, min(x1, x2), max(x1, x2)
            line = Box(left - 1.2, y - 1.2, right + 1.2, y + 1.2)
            near = any(line.overlaps(box) for box in things)
            for wire, (ax, ay), (bx, by) in runs:
                if wire != placed.wire.id:
                    across = Box(ax - 1.9, ay - 2.5, bx + 1.9, by + 2.5)
                    near = near or Box(left, y, right, y + 0.01).overlaps(across)
            assert near, placed.wire.id
