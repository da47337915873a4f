"""Tracks: crossings avoided where they can be, demands kept, rings cut."""

from loomlore.drawing.routing import Run, tracked


def run(name, a, b):
    """A run between two ends, each (x, upper edge?)."""
    return Run(name, (a, b))


def test_a_straight_wire_needs_no_track():
    assert tracked([run("a", (5.0, True), (5.0, False))]).count == 0


def test_nested_loops_do_not_cross():
    made = tracked([run("in", (10.0, False), (20.0, False)), run("out", (0.0, False), (30.0, False))])
    assert made.track["out", 0] < made.track["in", 0]


def test_runs_side_by_side_share_a_track():
    made = tracked([run("a", (0.0, True), (10.0, False)), run("b", (20.0, True), (30.0, False))])
    assert made.count == 1


def test_an_end_from_above_turns_off_above_an_end_from_below():
    made = tracked([run("low", (10.0, False), (40.0, False)), run("up", (10.0, True), (0.0, False))])
    assert made.track["up", 0] < made.track["low", 0]


def test_a_ring_of_demands_is_cut_by_a_dog_leg():
    made = tracked([run("a", (10.0, True), (20.0, False)), run("b", (20.0, True), (10.0, False))])
    halves = [r for r in made.runs if r.half == 1]
    assert len(halves) == 1
    cut = halves[0].wire
    assert made.track[cut, 0] < made.track[cut, 1]
    other = ({"a", "b"} - {cut}).pop()
    assert made.track[cut, 0] < made.track[other, 0] < made.track[cut, 1]
